package config

import (
	"slices"

	"gopkg.in/yaml.v3"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

func (d *document) config(root *yaml.Node) *Config {
	c := Default()
	pattern := c.Cylinders[0]
	c.Cylinders = nil
	top, ok := d.open(root, "", "")
	if !ok {
		return &c
	}
	into(top, "household", &c.Household, group.household)
	nodes, paths := top.items("cylinders", false)
	for i := range nodes {
		cyl := pattern
		if g, ok := d.open(nodes[i], paths[i], "cylinders[]"); ok {
			g.cylinder(&cyl)
		}
		c.Cylinders = append(c.Cylinders, cyl)
	}
	into(top, "refill", &c.Refill, group.refill)
	into(top, "serving", &c.Serving, group.serving)
	c.Listen = optional(top, "listen", Listen{Address: loopback}, group.listen)
	into(top, "chat", &c.Chat, func(g group, chat *Chat) { chat.Discord = optional(g, "discord", Discord{}, group.discord) })
	into(top, "schedule", &c.Schedule, group.schedule)
	c.Secrets = d.secrets
	return &c
}

func (g group) household(h *Household) {
	take(g, "name", &h.Name, text(80))
	take(g, "timezone", &h.Location, parseZone)
	take(g, "units", &h.Units, parseUnits)
	take(g, "quiet_hours", &h.Quiet, parseQuiet)
	take(g, "litres_per_day", &h.LitresPerDay, between(parseLitres, 0, 200, "0 to 200 L"))
	nodes, paths := g.items("members", false)
	for i, n := range nodes {
		m := record.Member{Carries: true}
		if n.Kind == yaml.ScalarNode {
			scalar(g.d, n, paths[i], g.key("members"), &m.Name, text(40))
		} else if mg, ok := g.d.open(n, paths[i], "household.members[]"); ok {
			take(mg, "name", &m.Name, text(40))
			take(mg, "id", &m.ID, parseSnowflake)
			take(mg, "carries", &m.Carries, parseBool)
		}
		h.Members = append(h.Members, m)
	}
}

func (g group) serving(s *Serving) {
	take(g, "litres", &s.Litres, between(parseLitres, 0.05, 50, "0.05 to 50 L"))
	take(g, "co2", &s.CO2, unit.ParseMass)
}

func (g group) listen(l *Listen) {
	take(g, "address", &l.Address, parseAddress)
	g.token(&l.Token)
	g.needToken()
}

// cylinder reads into c, which comes filled with the pattern of Default.
func (g group) cylinder(c *Cylinder) {
	take(g, "name", &c.Name, text(40))
	take(g, "gas", &c.Gas, parseGas)
	take(g, "tare", &c.Tare, between(unit.ParseMass, 1, 300_000, "more than 0 and at most 300 kg"))
	take(g, "fittings", &c.Fittings, between(unit.ParseMass, 0, 20_000, "0 to 20 kg"))
	take(g, "net_fill", &c.NetFill, between(unit.ParseMass, 1, 100_000, "more than 0 and at most 100 kg"))
	take(g, "water_capacity", &c.Capacity, unit.ParseVolume)
	take(g, "min_pressure", &c.MinPressure, unit.ParsePressure)
	take(g, "spare", &c.Spare, parseBool)
	c.Stock = optional(g, "stock", Stock{}, group.stock)
	c.Retest = optional(g, "retest", *c.Retest, group.retest)
	c.Room = optional(g, "room", *c.Room, group.room)
	c.Scale = optional(g, "scale", *c.Scale, group.scale)
	c.CO2Monitor = optional(g, "co2_monitor", *c.CO2Monitor, group.monitor)
}

func (g group) stock(s *Stock) {
	take(g, "price", &s.Price, parseMoney)
	take(g, "payer", &s.Payer, text(40))
}

func (g group) retest(r *Retest) {
	take(g, "last", &r.Last, parseMonth)
	take(g, "every", &r.Every, parsePeriod)
}

func (g group) room(r *Room) {
	take(g, "volume", &r.Volume, between(unit.ParseVolume, 1000, 1e7, "1 to 10000 m3"))
	take(g, "air_changes", &r.AirChanges, between(bare, 0.01, 100, "0.01 to 100 per hour"))
	take(g, "temperature", &r.Temperature, between(unit.ParseTemperature, -20, 50, "-20 to 50 C"))
}

func (g group) scale(s *Scale) {
	g.endpoint(&s.Endpoint)
	take(g, "weight", &s.Weight, parsePointer)
	take(g, "record", &s.Record, text(200))
	take(g, "unit", &s.Unit, parseMassUnit)
	take(g, "temperature", &s.Temperature, parsePointer)
	take(g, "temperatures", &s.Climate, parseClimate)
	take(g, "time", &s.Time, parsePointer)
	s.Raw = optional(g, "raw", Raw{}, func(g group, r *Raw) {
		take(g, "zero", &r.Zero, bare)
		take(g, "per_unit", &r.PerUnit, bare)
	})
	if !take(g, "silent_after", &s.SilentAfter, durationIn(minSilent, maxSilent)) {
		s.SilentAfter = silentAfter(s.Every)
	}
}

func (g group) monitor(m *CO2Monitor) {
	g.endpoint(&m.Endpoint)
	take(g, "value", &m.Value, parsePointer)
	take(g, "alarm", &m.Alarm, parsePPM)
}

func (g group) endpoint(e *Endpoint) {
	take(g, "url", &e.URL, parseURL)
	take(g, "every", &e.Every, durationIn(minEvery, maxEvery))
	if !take(g, "timeout", &e.Timeout, durationIn(minTimeout, maxTimeout)) {
		e.Timeout = min(e.Timeout, e.Every)
	}
	take(g, "header", &e.Header, parseHeader)
	g.token(&e.Token)
}

// token reads where a token is kept: in one place.
func (g group) token(s *SecretSource) {
	take(g, "token_env", &s.Env, parseEnv)
	take(g, "token_file", &s.File, g.d.besideFile)
	if s.Env != "" && s.File != "" {
		g.d.fail(g.vals["token_file"], g.sub("token_file"), "", "token_env is given too; want one of the two")
	}
	if s.Set() {
		g.d.secrets = append(g.d.secrets, Place{g.path, *s})
	}
}

func (g group) refill(r *Refill) {
	take(g, "lead_days", &r.LeadDays, wholeIn(0, 120))
	if days := list(g, "open", days); days != nil {
		r.Open = mondayFirst(slices.Concat(days...))
	}
	take(g, "holidays", &r.Holidays, parseRegion)
	take(g, "risk", &r.Risk, parseRisk)
	take(g, "price", &r.Price, parseMoney)
	take(g, "alternative", &r.Alternative, parseMoney)
	take(g, "outlay", &r.Outlay, parseMoney)
	take(g, "swap", &r.Swap, parseBool)
	take(g, "supplier", &r.Supplier, text(200))
}

func (g group) discord(c *Discord) {
	take(g, "channel", &c.Channel, parseSnowflake)
	take(g, "guild", &c.Guild, parseSnowflake)
	g.token(&c.Token)
	c.Roles = list(g, "roles", parseSnowflake)
	take(g, "free_text", &c.FreeText, parseBool)
	g.needToken()
}

// needToken records that a place for the token is missing.
func (g group) needToken() {
	if g.vals["token_env"] == nil && g.vals["token_file"] == nil {
		g.d.fail(g.node, g.sub("token_env"), "", "missing; "+g.key("token_env").wanted())
	}
}

// schedule reads a cron spec; a mistake is placed at the field that holds it.
func (g group) schedule(dst *Schedule) {
	bad := 0
	check := func(s string) (string, error) {
		at, err := checkCron(s)
		bad = at
		return s, err
	}
	if take(g, "status", &dst.Status, check) || bad == 0 {
		return
	}
	n := g.vals["status"]
	if n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
		return
	}
	col := n.Column + len([]rune(n.Value[:bad]))
	if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 {
		col++
	}
	g.d.errs[len(g.d.errs)-1].Col = col
}
