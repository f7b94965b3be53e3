package household

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/cost"
	"tarebell/forecast/unit"
)

// servingShare is the standard deviation of what a litre takes, as a share of it; by hand no two are alike (common
// practice, no source).
const servingShare = 0.1

// books are what an account of the gas rests on.
type books struct {
	opt      *Options
	servings *servings
	fills    [][]fill // of each cylinder in the order of the options, the present one as it stands
}

func (b books) account(now time.Time, use cost.Uncertain) notice.Account {
	a := notice.Account{Now: now, Named: len(b.fills) > 1, Alternative: b.opt.Refill.Alternative, Outlay: b.opt.Refill.Outlay,
		GramsPerLitre: b.servings.perLitre}
	for _, f := range slices.Concat(b.fills...) {
		a.Fills = append(a.Fills, f.Fill)
		if !math.IsNaN(float64(f.Used)) {
			a.Used += f.Used
		}
		a.Lost += f.Lost
	}
	slices.SortStableFunc(a.Fills, func(x, y notice.Fill) int { return x.At.Compare(y.At) })
	if len(a.Fills) > 0 {
		a.Since = a.Fills[0].At
	}
	a.Gas, a.Assumed = b.rate()
	b.share(&a)
	b.compare(&a, use)
	return a
}

// rate is the average price of a gram over the fills that were paid for; without any, of a fill as configured.
func (b books) rate() (r cost.Rate, assumed bool) {
	var paid []cost.Fill
	for i, fills := range b.fills {
		for _, f := range fills {
			price, net := f.Price, f.Net()
			if f.First && f.start > 0 {
				price, net = b.opt.Cylinders[i].Stock, unit.Grams(f.start)
			}
			if price.Known() && price.Code() == b.currency() && net > 0 {
				paid = append(paid, cost.Fill{At: f.At, Price: price, Net: net})
			}
		}
	}
	if len(paid) == 0 && b.opt.Refill.Price.Known() {
		paid, assumed = []cost.Fill{{Price: b.opt.Refill.Price, Net: b.opt.Cylinders[0].Forecast.NetFill}}, true
	}
	r, err := cost.PerGram(paid)
	if err != nil {
		return cost.Rate{}, assumed
	}
	return r, assumed
}

// currency is the household's: of the config, else of the latest fill.
func (b books) currency() string {
	code := ""
	for _, f := range slices.Concat(b.fills...) {
		code = cmp.Or(f.Price.Code(), code)
	}
	return cmp.Or(b.opt.Refill.Currency(), b.opt.Cylinders[0].Stock.Code(), code)
}

// share charges the gas that was drawn to those who drew it.
func (b books) share(a *notice.Account) {
	a.Members = b.consumers(a.Fills)
	names := make([]string, len(a.Members))
	for i, m := range a.Members {
		names[i] = m.Name
		a.Servings += m.Servings
	}
	a.Logged = min(a.Used, unit.Grams(a.Servings)*b.servings.gas)
	if a.Used <= 0 || len(names) == 0 {
		return
	}
	var cylinders [][]cost.Lot
	for i := range b.fills {
		cylinders = append(cylinders, b.lots(i, names))
	}
	shares, err := cost.Charge(cylinders, names)
	if err != nil {
		a.Trouble = "The prices are in several currencies, so they cannot be divided."
		return
	}
	a.Shares = shares
}

// lots are the fillings of a cylinder, with who drew while each was the present one.
func (b books) lots(cylinder int, names []string) (out []cost.Lot) {
	cfg := &b.opt.Cylinders[cylinder]
	for _, f := range b.fills[cylinder] {
		l := cost.Lot{Net: f.Net(), Price: f.Price, Payer: f.By, Alone: f.Tare > 0, Lost: f.Lost}
		if f.start > 0 {
			l.Stock = unit.Grams(f.start)
		}
		if l.Net == 0 {
			l.Net = l.Stock
		}
		if f.First {
			l.Price, l.Payer = cfg.Stock, cfg.StockBy
		}
		servings := make([]float64, len(names))
		for k, name := range names {
			servings[k] = f.served[name]
		}
		l.Drawn = cost.Drawn(f.Used, b.servings.gas, servings)
		out = append(out, l)
	}
	return out
}

// consumers are the members, and whoever else logged a serving or paid.
func (b books) consumers(fills []notice.Fill) (out []notice.Consumer) {
	add := func(name string) {
		if name != "" && !slices.ContainsFunc(out, func(c notice.Consumer) bool { return c.Name == name }) {
			out = append(out, notice.Consumer{Name: name, Servings: b.servings.logged[name]})
		}
	}
	for _, m := range b.opt.Members {
		add(m.Name)
	}
	for _, name := range slices.Sorted(maps.Keys(b.servings.logged)) {
		add(name)
	}
	for _, f := range fills {
		if f.Price.Known() {
			add(f.By)
		}
	}
	for _, c := range b.opt.Cylinders {
		add(c.StockBy)
	}
	return out
}

// compare holds the cost against what would be bought otherwise.
func (b books) compare(a *notice.Account, use cost.Uncertain) {
	if !a.Alternative.Known() || !a.Gas.Known() || a.GramsPerLitre <= 0 {
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
