package config

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
)

// Limits of what can be a household's. Without another source they are common practice.
const (
	minEvery, maxEvery     = time.Second, 24 * time.Hour
	minTimeout, maxTimeout = time.Second, time.Minute
	minSilent, maxSilent   = time.Minute, 30 * 24 * time.Hour

	// minNet is less than a household's scale can follow; the smallest refillable cylinders hold some 400 g.
	minNet unit.Grams = 100
	// lightest is the tare of a cylinder as a share of its gas that no maker undercuts, composites included.
	lightest = 0.4
	// nearFill is the share of a filling's price that a litre bought elsewhere cannot cost: a small one makes dozens of litres.
	nearFill = 0.5

	// maxFilling is the fullest that any rule known to us lets a CO2 cylinder be, in kg per litre of water
	// capacity: 0.76 in recent ADR P200 for 250 bar test pressure (from memory); 49 CFR 173.304a ends at 0.745.
	maxFilling = 0.76
	// minFilling is so little that a unit must be wrong.
	minFilling = 0.1
	// defaultFilling is that of 49 CFR 173.304a for common steel cylinders.
	defaultFilling = 0.68
)

// check compares values that were each read well.
func (d *document) check(c *Config) {
	seen := map[string]string{}
	for i := range c.Cylinders {
		path := fmt.Sprintf("cylinders[%d]", i)
		d.once(seen, path+".name", c.Cylinders[i].Name)
		d.checkCylinder(path, &c.Cylinders[i])
		if n := d.at[path+".scale"]; n != nil && n.Kind == yaml.MappingNode && c.Listen == nil && d.at[path+".scale.url"] == nil {
			d.fail(n, path+".scale.url", "", "missing; want where the scale answers (for example http://scale.example/weight), or listen if it sends by itself")
		}
	}
	if len(c.Cylinders) > 0 && !slices.ContainsFunc(c.Cylinders, func(c Cylinder) bool { return !c.Spare }) {
		d.failAt("cylinders[0].spare", "all cylinders are spare; one must be in use")
	}
	d.checkMembers(c.Household.Members)
	d.checkServing(c.Serving)
	d.checkMoney(c.Refill)
	d.checkStock(c)
}

// checkStock wants the currency of the refill and a member who paid.
func (d *document) checkStock(c *Config) {
	for i, cyl := range c.Cylinders {
		if cyl.Stock == nil {
			continue
		}
		path := fmt.Sprintf("cylinders[%d].stock", i)
		if p := c.Refill.Price; p.Known() && cyl.Stock.Price.Known() && p.Code() != cyl.Stock.Price.Code() {
			d.failAt(path+".price", "another currency than "+p.Code()+" of refill.price; want one for all")
		}
		ms := c.Household.Members
		if len(ms) > 0 && cyl.Stock.Payer != "" && !slices.ContainsFunc(ms, func(m record.Member) bool { return m.Name == cyl.Stock.Payer }) {
			d.failAt(path+".payer", "is none of household.members")
		}
	}
}

func (d *document) checkCylinder(path string, c *Cylinder) {
	d.checkFilling(path, c)
	if c.MinPressure < unit.PascalsPerAtmosphere {
		d.failAt(path+".min_pressure", "below the air's own pressure; want absolute pressure (for gauge write barg or psig)")
	}
	if c.Retest != nil && d.at[path+".retest.last"] != nil && c.Retest.Last.After(time.Now()) {
		d.failAt(path+".retest.last", "is still to come; want the month that was stamped at the last inspection")
	}
	if c.Scale != nil {
		d.checkScale(path+".scale", c.Scale)
	}
	if m := c.CO2Monitor; m != nil {
		d.checkEndpoint(path+".co2_monitor", m.Endpoint)
	}
}

// checkFilling compares gas and water capacity, and tare and gas.
func (d *document) checkFilling(path string, c *Cylinder) {
	kg, l := c.NetFill.Kilograms(), float64(c.Capacity)
	if kg <= 0 {
		return
	}
	if c.NetFill < minNet {
		d.failAt(path+".net_fill", fmt.Sprintf("want at least %.0f g: a cartridge is no cylinder to be weighed", float64(minNet)))
	}
	if c.Tare > 0 && c.Tare < lightest*c.NetFill {
		d.failAt(path+".tare", fmt.Sprintf("no cylinder for %.4g kg of gas is that light (usual are %g to %g times the gas); is the unit right?", kg, lightTare, heavyTare))
	}
	if d.at[path+".water_capacity"] == nil {
		return
	}
	likely := fmt.Sprintf("(at %.2f kg/L it would be %.1f L)", defaultFilling, kg/defaultFilling)
	switch {
	case l <= 0:
		d.failAt(path+".water_capacity", "want more than 0 L "+likely)
	case kg/l > maxFilling:
		d.failAt(path+".water_capacity", fmt.Sprintf(
			"%.4g kg in %.4g L is %.2f kg/L; CO2 is filled to %.2f kg/L at most: is a unit wrong? %s", kg, l, kg/l, maxFilling, likely))
	case kg/l < minFilling:
		d.failAt(path+".water_capacity", fmt.Sprintf(
			"%.4g kg in %.4g L is only %.2g kg/L: is a unit wrong? %s", kg, l, kg/l, likely))
	}
}

func (d *document) checkScale(path string, s *Scale) {
	d.checkEndpoint(path, s.Endpoint)
	if s.SilentAfter < 2*s.Every {
		d.failAt(path+".silent_after", fmt.Sprintf("shorter than two polls; want at least %s", brief(2*s.Every)))
	}
	if s.Raw != nil && s.Raw.PerUnit == 0 {
		d.failAt(path+".raw.per_unit", "want counts for one unit more, not 0")
	}
	if s.Time != "" && s.Time == s.Weight {
		d.failAt(path+".time", "is also the weight; want the place of the time")
	}
	if s.Temperature != "" && s.Temperature == s.Weight {
		d.failAt(path+".temperature", "is also the weight; want the place of the temperature")
	}
}

func (d *document) checkEndpoint(path string, e Endpoint) {
	if e.Timeout > e.Every {
		d.failAt(path+".timeout", "longer than every; want at most "+brief(e.Every))
	}
	if e.Header != "" && !e.Token.Set() {
		d.failAt(path+".header", "carries no token; add token_env or token_file")
	}
}

func (d *document) checkMembers(ms []record.Member) {
	byName, byID := map[string]string{}, map[string]string{}
	for i, m := range ms {
		path := fmt.Sprintf("household.members[%d]", i)
		if d.at[path+".name"] != nil {
			d.once(byName, path+".name", m.Name)
		} else {
			d.once(byName, path, m.Name)
		}
		d.once(byID, path+".id", m.ID)
	}
}

// once reports a word that stood at another path already; upper and lower case are the same.
func (d *document) once(seen map[string]string, path, word string) {
	k := strings.ToLower(word)
	if first, ok := seen[k]; ok && word != "" {
		d.failAt(path, "used already by "+first+"; want another")
		return
	}
	seen[k] = path
}

func (d *document) checkServing(s Serving) {
	if d.at["serving.co2"] == nil || d.at["serving.litres"] == nil || s.Litres <= 0 {
		return
	}
	if g := float64(s.CO2) / float64(s.Litres); g < 1 || g > 60 {
		d.failAt("serving.co2", fmt.Sprintf("%.2f g per litre; want 1 to 60 g per litre, losses included", g))
	}
}

func (d *document) checkMoney(r Refill) {
	first := ""
	for _, m := range []struct {
		path string
		unit.Money
	}{{"refill.price", r.Price}, {"refill.alternative", r.Alternative}, {"refill.outlay", r.Outlay}} {
		switch {
		case !m.Known():
		case first == "":
			first = m.Code()
		case m.Code() != first:
			d.failAt(m.path, "another currency than "+first+" above; want one for all")
		}
	}
	if a, p := r.Alternative, r.Price; a.Known() && p.Known() && a.Code() == p.Code() && float64(a.Minor()) > nearFill*float64(p.Minor()) {
		d.failAt("refill.alternative", fmt.Sprintf("one litre cannot cost nearly as much as a whole filling, %g %s; want the price of a litre", p.Amount(), p.Code()))
	}
}

// failed reports that path is wrong already.
func (d *document) failed(path string) bool {
	return slices.ContainsFunc(d.errs, func(e *mistake.Mistake) bool { return e.Path == path })
}

// besideFile reads a path; a relative one counts from the config's own folder.
func (d *document) besideFile(s string) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" || len(s) > 4096 || strings.ContainsRune(s, 0) {
		return "", errors.New("want the path of a file")
	}
	if filepath.IsAbs(s) {
		return s, nil
	}
	return filepath.Join(filepath.Dir(d.file), s), nil
}

func wholeIn(lo, hi int) func(string) (int, error) {
	return func(s string) (int, error) {
		x, err := bare(s)
		if err != nil || x != float64(int(x)) || int(x) < lo || int(x) > hi {
			return 0, fmt.Errorf("want a whole number from %d to %d", lo, hi)
		}
		return int(x), nil
	}
}
