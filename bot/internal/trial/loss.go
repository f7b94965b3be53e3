package trial

// leak is a loss to come.
type leak struct {
	kind  string
	start int
	rate  float64 // g/h
	hours float64 // 0: until somebody stops it
}

// drawLeaks draws what will escape: several losses over the years, or the one of a cylinder of the family leak.
func (h *Home) drawLeaks() []leak {
	r := newRNG(h.Seed, lossStream)
	rates := map[string]func() float64{
		"slow": func() float64 { return r.logBetween(1, 6) }, "medium": func() float64 { return r.between(8, 40) },
		"valve": func() float64 { return r.between(40, 250) }, "violent": func() float64 { return r.between(150, 1200) }}
	if h.Family == Leak {
		l := leak{kind: oneOf(r, "slow", "slow", "medium", "violent", "valve")}
		l.rate, l.start = rates[l.kind](), int(r.between(0.15, 0.75)*min(h.net/h.rate, 400)*day)
		if l.kind == "valve" {
			l.hours = r.between(6, 30)
		}
		return []leak{l}
	}
	var out []leak
	if !h.Losses {
		return nil
	}
	for _, k := range []struct {
		kind string
		year float64
	}{{"slow", 0.35}, {"medium", 0.2}, {"valve", 0.5}, {"violent", 0.15}} {
		for range r.poisson(k.year * float64(h.Days) / 365.25) {
			out = append(out, leak{k.kind, int(r.between(0.03, 0.97) * float64(h.end)), rates[k.kind](), r.between(4, 24)})
		}
	}
	sortBy(out, func(l leak) int { return l.start })
	return out
}

// Fate is how a loss ended.
type Fate string

// The fates.
const (
	Told   Fate = "told"   // somebody was told and stopped it
	Chance Fate = "chance" // the next who drew shut the valve
	Refill Fate = "refill" // found when the cylinder was changed
	Open   Fate = "open"   // it went on to the end
)

// Loss is gas that escaped.
type Loss struct {
	leak
	lost float64 // g
	end  int
	fate Fate
	told int // when the household was first told; never
	fill int // how many refills it has seen begin
}
