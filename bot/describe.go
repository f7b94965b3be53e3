package main

import (
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/schedule"
	"tarebell/config"
	"tarebell/forecast"
	"tarebell/forecast/co2"
	"tarebell/forecast/cost"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// reading tells what a config was understood to say.
type reading struct {
	io.Writer
	unit.System
	cfg *config.Config
	set household.Options
	now time.Time

	getenv func(string) string
}

func (r *reading) row(what, format string, args ...any) {
	fmt.Fprintf(r, "  %-18s %s\n", what, fmt.Sprintf(format, args...))
}

func (r *reading) household() {
	h := r.cfg.Household
	fmt.Fprintf(r, "%s, clock of %s, %s units\n", h.Name, h.Location, h.Units)
	var carry, others []string
	for _, m := range h.Members {
		if m.Carries {
			carry = append(carry, m.Name)
		} else {
			others = append(others, m.Name+" (carries nothing)")
		}
	}
	if all := append(carry, others...); len(all) > 0 {
		r.row("members", "%s", strings.Join(all, ", "))
	}
	if h.LitresPerDay > 0 {
		r.row("drinks", "%.3g L a day by your own guess, until it is learned", float64(h.LitresPerDay))
	}
	if s := r.cfg.Serving; s.CO2 > 0 && s.Litres > 0 {
		perLitre := unit.GramsPerLitre(float64(s.CO2) / float64(s.Litres))
		r.row("a serving", "%.3g g for %.3g L: %.1f g a litre, which would be %.1f volumes if all of it stayed in the drink",
			float64(s.CO2), float64(s.Litres), float64(perLitre), float64(serving.InVolumes(perLitre)))
	}
}

// doubts lists what is unlikely or unwise.
func (r *reading) doubts(secrets []config.Place) {
	all := r.cfg.Doubts()
	for _, s := range secrets {
		if s.Source.Exposed() {
			all = append(all, config.Doubt{Path: s.Path + ".token_file", Said: fmt.Sprintf("everybody on this machine may read %q; chmod 600 keeps it to its owner", s.Source.File)})
		}
	}
	for i, d := range all {
		if i == 0 {
			fmt.Fprintf(r, "\nunlikely: please look again\n")
		}
		fmt.Fprintf(r, "  %s: %s\n", d.Path, d.Said)
	}
}

// token says whether a token is at hand.
func (r *reading) token(s config.SecretSource) {
	if !s.Set() {
		return
	}
	if _, err := s.Read(r.getenv); err != nil {
		r.row("token", "%v: set it before bot run", err)
		return
	}
	r.row("token", "found")
}

// listen tells where weighings are taken that scales send by themselves.
func (r *reading) listen() {
	l := r.cfg.Listen
	if l == nil {
		return
	}
	fmt.Fprintf(r, "\nlisten\n")
	r.row("weighings", "POST http://%s/weighings, with the token", l.Address)
	r.token(l.Token)
	if host, _, err := net.SplitHostPort(l.Address); err == nil && host != "localhost" && !net.ParseIP(host).IsLoopback() {
		r.row("who gets there", "everybody in that network, and what is sent is not encrypted: keep it to your own network")
	}
}

func (r *reading) cylinder(cyl config.Cylinder) {
	fmt.Fprintf(r, "\ncylinder %s\n", cyl.Name)
	if cyl.Spare {
		r.row("waits its turn", "counted as full; /use %s when it takes over", cyl.Name)
	}
	r.row("empty on the scale", "%s (tare %s, fittings %s)", r.Fixed(cyl.Empty(), 2), r.Fixed(cyl.Tare, 2), r.Fixed(cyl.Fittings, 2))
	r.row("full on the scale", "%s (net fill %s)", r.Fixed(cyl.Full(), 2), r.Fixed(cyl.NetFill, 2))
	r.physics(cyl)
	if cyl.Room != nil {
		r.row("room", "%.0f m³, %g air changes an hour", cyl.Room.Volume.CubicMetres(), cyl.Room.AirChanges)
	}
	if cyl.Retest != nil {
		due := cyl.Retest.Due()
		if due.AddDate(0, 1, 0).Before(r.now) {
			r.row("retest", "was due in %s: it may not be filled before it is inspected", due.Format("January 2006"))
		} else {
			r.row("retest", "due in %s", due.Format("January 2006"))
		}
	}
	r.sources(cyl)
}

func (r *reading) physics(cyl config.Cylinder) {
	capacity, how := cyl.Capacity, "given"
	if capacity == 0 {
		capacity, how = co2.Capacity(cyl.NetFill), "from the net fill at a filling ratio of 0.68, 49 CFR 173.304a"
	}
	temp := unit.Celsius(20)
	if cyl.Room != nil {
		temp = cyl.Room.Temperature
	}
	i := slices.IndexFunc(r.set.Cylinders, func(c household.Cylinder) bool { return c.Name == cyl.Name })
	out := forecast.New(r.set.Cylinders[i].Forecast).Outlook(time.Unix(0, 0))
	r.row("water capacity", "%.1f L (%s)", float64(capacity), how)
	r.row("heel", "%s cannot be used: below %s absolute it no longer carbonates", r.Fixed(out.Heel, 2), r.Pressure(cyl.MinPressure, 1))
	r.row("liquid-dry", "at %s net the last liquid is gone (at %s); from there the pressure falls", r.Fixed(out.DryMass, 2), r.Temperature(temp))
	if p, _, err := co2.FillPressure(cyl.NetFill, capacity, 50); err == nil {
		r.row("in the heat", "full and at %s it would hold %s: never in a closed or hot car", r.Temperature(50), r.Pressure(p, 0))
	}
}

func (r *reading) sources(cyl config.Cylinder) {
	switch s := cyl.Scale; {
	case s != nil:
		what := fmt.Sprintf("%s every %s", s.URL, brief(s.Every))
		if s.URL.Reveal() == "" {
			what = fmt.Sprintf("sends by itself, about every %s", brief(s.Every))
		}
		r.row("scale", "%s, in %s; told as silent after %s", what, s.Unit, brief(s.SilentAfter))
		r.token(s.Token)
		if c := s.Climate; c != (config.Climate{}) {
			r.row("made for", "%s to %s; beyond that a check is asked for", r.Temperature(c.From), r.Temperature(c.To))
		}
	case !cyl.Spare:
		r.row("scale", "none: weights are typed in the chat")
	}
	if m := cyl.CO2Monitor; m != nil {
		r.row("CO2 monitor", "%s every %s; passed on from %.0f ppm", m.URL, brief(m.Every), float64(m.Alarm))
		r.token(m.Token)
	}
}

func (r *reading) refill() {
	c := r.cfg.Refill
	fmt.Fprintf(r, "\nrefill\n")
	if c.Supplier != "" {
		r.row("supplier", "%s", c.Supplier)
	}
	var days []string
	for _, d := range c.Open {
		days = append(days, d.String()[:3])
	}
	r.row("takes", "%d %s from booking; open %s", c.LeadDays, map[bool]string{true: "day", false: "days"}[c.LeadDays == 1], strings.Join(days, " "))
	if c.Holidays != "" {
		r.row("closed", "on the public holidays of %s%s", strings.ToUpper(c.Holidays), r.holidays())
	}
	if c.Swap {
		r.row("swap", "the supplier swaps the cylinder; the next one has its own tare")
	}
	r.row("risk", "%.3g %% of running dry before it arrives is accepted", c.Risk*100)
	r.money()
}

// holidays names the next two.
func (r *reading) holidays() string {
	var next []string
	day := r.now.In(r.cfg.Household.Location)
	for i := 0; i < 400 && len(next) < 2; i++ {
		if name := r.set.Refill.Holiday(day); name != "" {
			next = append(next, fmt.Sprintf("%s (%s)", day.Format("Mon 2 Jan 2006"), name))
		}
		day = day.AddDate(0, 0, 1)
	}
	if len(next) == 0 {
		return ""
	}
	return "; the next are " + mistake.Join(next, "and")
}

func (r *reading) money() {
	m := r.cfg.Refill
	if m.Price.Known() {
		line := m.Price.String() + " a fill"
		if each, err := cost.PerGram([]cost.Fill{{Price: m.Price, Net: r.set.Cylinders[0].Forecast.NetFill}}); err == nil && r.set.Cylinders[0].GramsPerLitre > 0 {
			line += fmt.Sprintf(", about %v a litre of drink", each.PerLitre(unit.GramsPerLitre(r.set.Cylinders[0].GramsPerLitre)).Rounded())
		}
		r.row("price", "%s", line)
	}
	if m.Alternative.Known() {
		r.row("alternative", "%v a litre, bought otherwise", m.Alternative)
	}
	if m.Outlay.Known() {
		r.row("outlay", "%v spent once, to be earned back", m.Outlay)
	}
}

func (r *reading) chat() {
	fmt.Fprintf(r, "\nchat\n")
	d := r.cfg.Chat.Discord
	if d == nil {
		r.row("channel", "this terminal")
		return
	}
	r.row("channel", "Discord, %s", d.Channel)
	token, err := d.Token.Read(r.getenv)
	app, ok := discord.AppID(token.Reveal())
	switch {
	case err != nil:
		r.row("token", "%v: set it before bot run", err)
	case !ok:
		r.row("token", "found, but it does not look like a bot's token")
	default:
		r.row("invite", "%s", discord.InviteLink(app))
	}
	if d.FreeText {
		r.row("typed weights", "read as they are typed; switch on “Message Content Intent” in the developer portal")
	} else {
		r.row("typed weights", "only by /weigh; to read them as they are typed set chat.discord.free_text: true")
	}
}

func (r *reading) posts() error {
	s, err := schedule.Parse(r.cfg.Schedule.Status, r.cfg.Household.Location)
	if err != nil {
		return err
	}
	fmt.Fprintf(r, "\nposts\n")
	var next []string
	for t, i := s.Next(r.now), 0; i < 3 && !t.IsZero(); i++ {
		next = append(next, t.In(r.cfg.Household.Location).Format("Mon 2 Jan 2006 15:04 MST"))
		t = s.Next(t)
	}
	r.row("weekly status", "%s", strings.Join(next, ", "))
	if q := r.cfg.Household.Quiet; q.Any() {
		r.row("quiet", "%s to %s, but for dangers", q.From, q.To)
	}
	return nil
}

// brief writes a duration without its empty parts: 10m, 6h.
func brief(d time.Duration) string {
	s := d.String()
	if m, ok := strings.CutSuffix(s, "m0s"); ok {
		s = m + "m"
	}
	if h, ok := strings.CutSuffix(s, "h0m"); ok {
		s = h + "h"
	}
	return s
}
