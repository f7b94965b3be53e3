package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/schedule"
	"tarebell/config"
	"tarebell/forecast"
	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

// checkCommand reads a config and says what it means.
type checkCommand struct {
	Config string    `required:"" placeholder:"FILE" help:"${config_help}"`
	At     time.Time `placeholder:"TIME" help:"Take this for the present (RFC 3339); now if left out."`
}

func (c *checkCommand) Run(w *world) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	settings, err := app.Household(cfg)
	if err != nil {
		return err
	}
	now := c.At
	if now.IsZero() {
		now = time.Now()
	}
	fmt.Fprintf(w.out, "%s: fine. This is what was understood.\n\n", c.Config)
	fmt.Fprintf(w.out, "%s, clock of %s, %s units\n", cfg.Household.Name, cfg.Household.Location, cfg.Household.Units)
	for i, cyl := range cfg.Cylinders {
		if cyl.Spare {
			fmt.Fprintf(w.out, "\ncylinder %s: a spare, not watched\n", cyl.Name)
			continue
		}
		describeCylinder(w.out, cfg, cfg.Cylinders[i], settings)
	}
	describeRefill(w.out, cfg)
	describeChat(w.out, cfg, w.getenv)
	return describeSchedule(w.out, cfg, now)
}

// loadConfig reads a config, with advice where the file itself is the trouble.
func loadConfig(path string) (*config.Config, error) {
	cfg, err := config.Load(path)
	if os.IsNotExist(err) || (err != nil && strings.Contains(err.Error(), "no such file")) {
		return nil, &hint{err, "README.md has a config to start from"}
	}
	return cfg, err
}

func describeCylinder(w io.Writer, cfg *config.Config, cyl config.Cylinder, o household.Options) {
	kg := func(m unit.Grams) string {
		if cfg.Household.Units == config.US {
			return fmt.Sprintf("%.2f lb", m.Pounds())
		}
		return fmt.Sprintf("%.2f kg", m.Kilograms())
	}
	var opt forecast.Options
	for _, c := range o.Cylinders {
		if c.Name == cyl.Name {
			opt = c.Forecast
		}
	}
	out := forecast.New(opt).Outlook(time.Unix(0, 0))
	capacity := cyl.WaterCapacity
	how := "given"
	if capacity == 0 {
		capacity, how = co2.Capacity(cyl.NetFill), "from the net fill at a filling ratio of 0.68, 49 CFR 173.304a"
	}
	temp := unit.Celsius(20)
	if cyl.Room != nil {
		temp = cyl.Room.Temperature
	}
	fmt.Fprintf(w, "\ncylinder %s\n", cyl.Name)
	row(w, "empty on the scale", "%s (tare %s, fittings %s)", kg(cyl.Tare+cyl.Fittings), kg(cyl.Tare), kg(cyl.Fittings))
	row(w, "full on the scale", "%s (net fill %s)", kg(cyl.Tare+cyl.Fittings+cyl.NetFill), kg(cyl.NetFill))
	row(w, "water capacity", "%.1f L (%s)", float64(capacity), how)
	row(w, "heel", "%s cannot be used: below %.1f bar it no longer carbonates", kg(out.Heel), cyl.MinPressure.Bar())
	row(w, "liquid-dry", "at %s net the last liquid is gone (at %.0f °C); from there the pressure falls", kg(out.DryMass), float64(temp))
	if p, _, err := co2.FillPressure(cyl.NetFill, capacity, 50); err == nil {
		row(w, "in the heat", "full and at 50 °C it would hold %.0f bar: never in a closed or hot car", p.Bar())
	}
	if cyl.Room != nil {
		row(w, "room", "%.0f m³, %g air changes an hour", cyl.Room.Volume.CubicMetres(), cyl.Room.AirChanges)
	}
	if cyl.Retest != nil {
		row(w, "retest", "due %s", cyl.Retest.Due().Format("January 2006"))
	}
	if s := cyl.Scale; s != nil {
		row(w, "scale", "%s every %s, in %s; told as silent after %s", s.URL, brief(s.Every), s.Unit, brief(s.SilentAfter))
	} else {
		row(w, "scale", "none: weights are typed in the chat")
	}
}

func row(w io.Writer, what, format string, args ...any) {
	fmt.Fprintf(w, "  %-18s %s\n", what, fmt.Sprintf(format, args...))
}

func describeRefill(w io.Writer, cfg *config.Config) {
	r := cfg.Refill
	var days []string
	for _, d := range r.Open {
		days = append(days, d.String()[:3])
	}
	fmt.Fprintf(w, "\nrefill\n")
	row(w, "takes", "%d days from booking; open %s", r.LeadDays, strings.Join(days, " "))
	if r.Holidays != "" {
		row(w, "closed", "on the public holidays of %s", r.Holidays)
	}
	row(w, "risk", "%.3g %% of running dry before it arrives is accepted", r.Risk*100)
	if r.Price.Known() {
		row(w, "price", "%.2f %s a fill", r.Price.Amount, r.Price.Currency)
	}
}

func describeChat(w io.Writer, cfg *config.Config, getenv func(string) string) {
	fmt.Fprintf(w, "\nchat\n")
	d := cfg.Chat.Discord
	if d == nil {
		row(w, "channel", "this terminal")
		return
	}
	row(w, "channel", "Discord, %s", d.Channel)
	token, err := d.Token.Read(getenv)
	app, ok := discord.AppID(token.Reveal())
	switch {
	case err != nil:
		row(w, "token", "%v: set it before bot run", err)
	case !ok:
		row(w, "token", "found, but it does not look like a bot's token")
	default:
		row(w, "invite", "%s", discord.InviteLink(app))
	}
	if d.FreeText {
		row(w, "typed weights", "read as they are typed; switch on “Message Content Intent” in the developer portal")
	} else {
		row(w, "typed weights", "only by /weigh; to read them as they are typed set chat.discord.free_text: true")
	}
}

func describeSchedule(w io.Writer, cfg *config.Config, now time.Time) error {
	s, err := schedule.Parse(cfg.Schedule.Status, cfg.Household.Location)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "\nposts\n")
	var next []string
	for t, i := s.Next(now), 0; i < 3 && !t.IsZero(); i++ {
		next = append(next, t.In(cfg.Household.Location).Format("Mon 2 Jan 2006 15:04 MST"))
		t = s.Next(t)
	}
	row(w, "weekly status", "%s", strings.Join(next, ", "))
	if q := cfg.Household.Quiet; q.Any() {
		row(w, "quiet", "%s to %s, but for dangers", q.From, q.To)
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
