package household

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/cost"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

// servingShare is the standard deviation of what a litre takes, as a share of it; by hand no two are alike (common
// practice, no source).
const servingShare = 0.1

// somebody is for whom servings count when it was not said, as in recorded events.
const somebody = "somebody"

// others is under whose name servings are kept once there are more names than maxNames.
const (
	others   = "others"
	maxNames = 64
)

// log counts servings for somebody, of the present fill.
func (e *Engine) log(it *item, by string, servings float64) {
	if by == "" {
		by = somebody
	}
	if _, known := e.served[by]; !known && len(e.served) >= maxNames {
		by = others
	}
	e.served[by] += servings
	if p := it.last(); p != nil {
		if p.served == nil {
			p.served = map[string]float64{}
		}
		p.served[by] += servings
	}
}

// adopt plans from now on with a serving found by weighing.
func (e *Engine) adopt(s serving.Serving) {
	if s.Litres <= 0 {
		s.Litres = e.litres()
	}
	e.made = s
}

// litres is the drink in a serving, 0 unknown.
func (e *Engine) litres() unit.Litres {
	if e.made.Litres > 0 {
		return e.made.Litres
	}
	return e.opt.Cylinders[0].Litres
}

// gasPerServing is 0 when unknown.
func (e *Engine) gasPerServing() unit.Grams {
	if e.made.CO2 > 0 {
		return e.made.CO2
	}
	return e.opt.Cylinders[0].Forecast.Serving
}

// perLitre is the gas in a litre of drink, g/L; 0 unknown.
func (e *Engine) perLitre(it *item) float64 {
	if p := e.made.PerLitre(); p > 0 {
		return float64(p)
	}
	return it.cfg.GramsPerLitre
}

// perServing is a serving found by weighing, in servings as configured, which is how the forecast counts.
func (e *Engine) perServing(it *item) float64 {
	if e.made.CO2 > 0 && it.cfg.Forecast.Serving > 0 {
		return float64(e.made.CO2 / it.cfg.Forecast.Serving)
	}
	return 1
}

// Account is what the gas has cost so far, as of now.
func (e *Engine) Account(now time.Time) notice.Account {
	a := notice.Account{Now: now, Named: len(e.items) > 1, Alternative: e.opt.Refill.Alternative, Outlay: e.opt.Refill.Outlay,
		GramsPerLitre: e.perLitre(e.items[0])}
	var use cost.Uncertain
	for _, it := range e.items {
		for i := range it.fills {
			f := it.fills[i].Fill
			if i == len(it.fills)-1 {
				o := it.fc.Outlook(now)
				it.note(o)
				f = it.present()
				if !it.spare && o.Learned {
					use.Mean, use.SD = use.Mean+o.Use.Mean, math.Hypot(use.SD, o.Use.SD)
				}
			}
			a.Fills = append(a.Fills, f)
			if !math.IsNaN(float64(f.Used)) {
				a.Used += f.Used
			}
			a.Lost += f.Lost
		}
	}
	slices.SortStableFunc(a.Fills, func(x, y notice.Fill) int { return x.At.Compare(y.At) })
	if len(a.Fills) > 0 {
		a.Since = a.Fills[0].At
	}
	a.Gas, a.Assumed = e.rate()
	e.shares(&a)
	e.compare(&a, use)
	return a
}

// rate is the average price of a gram over the fills that were paid for; without any, of a fill as configured.
func (e *Engine) rate() (r cost.Rate, assumed bool) {
	var paid []cost.Fill
	for _, it := range e.items {
		for _, f := range it.fills {
			price, net := f.Price, f.Net()
			if f.First && f.start > 0 {
				price, net = it.cfg.Stock, unit.Grams(f.start)
			}
			if price.Code() != "" && price.Code() == e.currency() && net > 0 {
				paid = append(paid, cost.Fill{At: f.At, Price: price, Net: net})
			}
		}
	}
	if len(paid) == 0 && e.opt.Refill.Price.Code() != "" {
		paid, assumed = []cost.Fill{{Price: e.opt.Refill.Price, Net: e.opt.Cylinders[0].Forecast.NetFill}}, true
	}
	r, err := cost.PerGram(paid)
	if err != nil {
		return cost.Rate{}, assumed
	}
	return r, assumed
}

// currency is the household's: of the config, else of the latest fill.
func (e *Engine) currency() string {
	if code := cmp.Or(e.opt.Refill.Currency(), e.opt.Cylinders[0].Stock.Code()); code != "" {
		return code
	}
	code := ""
	for _, it := range e.items {
		for _, f := range it.fills {
			if f.Price.Code() != "" {
				code = f.Price.Code()
			}
		}
	}
	return code
}

// shares charges the gas that was drawn to those who drew it.
func (e *Engine) shares(a *notice.Account) {
	a.Members = e.consumers(a.Fills)
	names := make([]string, len(a.Members))
	for i, m := range a.Members {
		names[i] = m.Name
		a.Servings += m.Servings
	}
	a.Logged = min(a.Used, unit.Grams(a.Servings)*e.gasPerServing())
	if a.Used <= 0 || len(names) == 0 {
		return
	}
	var cylinders [][]cost.Lot
	for _, it := range e.items {
		cylinders = append(cylinders, e.lots(it, names))
	}
	shares, err := cost.Charge(cylinders, names)
	if err != nil {
		a.Trouble = "The prices are in several currencies, so they cannot be divided."
		return
	}
	a.Shares = shares
}

// lots are the fillings of a cylinder, with who drew while each was the present one.
func (e *Engine) lots(it *item, names []string) []cost.Lot {
	var out []cost.Lot
	for i, f := range it.fills {
		fill := f.Fill
		if i == len(it.fills)-1 {
			fill = it.present()
		}
		l := cost.Lot{Net: fill.Net(), Price: fill.Price, Payer: fill.By, Alone: fill.Tare > 0, Lost: fill.Lost}
		if f.start > 0 {
			l.Stock = unit.Grams(f.start)
		}
		if l.Net == 0 {
			l.Net = l.Stock
		}
		if fill.First {
			l.Price, l.Payer = it.cfg.Stock, it.cfg.StockBy
		}
		servings := make([]float64, len(names))
		for k, name := range names {
			servings[k] = f.served[name]
		}
		l.Drawn = cost.Drawn(fill.Used, e.gasPerServing(), servings)
		out = append(out, l)
	}
	return out
}

// consumers are the members, and whoever else logged a serving or paid.
func (e *Engine) consumers(fills []notice.Fill) []notice.Consumer {
	var out []notice.Consumer
	at := func(name string) *notice.Consumer {
		i := slices.IndexFunc(out, func(m notice.Consumer) bool { return m.Name == name })
		if i < 0 {
			out = append(out, notice.Consumer{Name: name})
			i = len(out) - 1
		}
		return &out[i]
	}
	for _, m := range e.opt.Members {
		at(m.Name)
	}
	for _, name := range slices.Sorted(maps.Keys(e.served)) {
		at(name).Servings = e.served[name]
	}
	for _, f := range fills {
		if f.By != "" && f.Price.Code() != "" {
			at(f.By)
		}
	}
	for _, it := range e.items {
		if by := it.cfg.StockBy; by != "" {
			at(by)
		}
	}
	return out
}

// compare holds the cost against what would be bought otherwise.
func (e *Engine) compare(a *notice.Account, use cost.Uncertain) {
	if a.Alternative.Code() == "" || !a.Gas.Known() || a.GramsPerLitre <= 0 {
		return
	}
	s, err := cost.Compare(cost.Comparison{Outlay: a.Outlay, Alternative: cost.Each(a.Alternative), Gas: a.Gas,
		GramsPerLitre: cost.Uncertain{Mean: a.GramsPerLitre, SD: servingShare * a.GramsPerLitre}, Use: use,
		Made: unit.Litres(float64(a.Used) / a.GramsPerLitre)})
	if err != nil {
		a.Trouble = "The prices in the config are in several currencies, so they cannot be compared."
		return
	}
	a.Saving, a.Compared = s, true
}

// worth prices lost gas; "" when there is no price.
func (e *Engine) worth(m unit.Grams) string {
	r, _ := e.rate()
	if !r.Known() {
		return ""
	}
	return r.Of(m).String()
}
