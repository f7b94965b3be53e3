package cost

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

// TestChargeByHand is the example of Charge's comment, figure by figure.
func TestChargeByHand(t *testing.T) {
	lots := []Lot{
		{Net: 2000, Stock: 2000, Drawn: []unit.Grams{500, 500, 250, 250}},
		{Net: 8000, Stock: 8500, Price: money(t, "40", "EUR"), Payer: "I", Drawn: []unit.Grams{1800, 1350, 900, 450}},
		{Net: 5000, Stock: 9000, Price: money(t, "30", "EUR"), Payer: "M", Drawn: []unit.Grams{1500, 1500, 1500, 1500}},
		{Net: 10000, Alone: true, Price: money(t, "45", "EUR"), Payer: "B", Drawn: []unit.Grams{250, 250, 250, 250}, Lost: 200},
	}
	shares, err := Charge([][]Lot{lots}, []string{"I", "J", "M", "B"})
	if err != nil {
		t.Fatal(err)
	}
	sum := int64(0)
	for i, want := range []struct{ cost, paid, repaid, balance string }{
		{"17.13", "40.00", "40.00", "-22.87"}, {"15.13", "0", "0", "15.13"}, {"13.12", "30.00", "12.00", "1.12"}, {"11.12", "45.00", "4.50", "6.62"},
	} {
		s := shares[i]
		if s.Cost.Decimal() != want.cost || s.Paid.Decimal() != want.paid || s.Repaid.Decimal() != want.repaid || s.Balance.Decimal() != want.balance {
			t.Errorf("%s: drew for %v, paid %v, of it drawn %v, balance %v; want %v", s.Name, s.Cost, s.Paid, s.Repaid, s.Balance, want)
		}
		sum += s.Balance.Minor()
	}
	if sum != 0 || shares[0].Gas != 4050 {
		t.Errorf("balances add up to %d; I drew %v g, want 4050", sum, shares[0].Gas)
	}
	lots[1].Price = money(t, "40", "USD")
	if s, err := Charge([][]Lot{lots}, []string{"I", "J", "M", "B"}); err == nil {
		t.Errorf("mixed currencies: %+v", s)
	}
}

// TestChargeEightDays: who pays a filling is owed, after eight days, what the others drew of it, and nothing for the gas before.
func TestChargeEightDays(t *testing.T) {
	lots := []Lot{{Net: 9000, Stock: 9000, Drawn: []unit.Grams{4000, 4000}},
		{Net: 10000, Stock: 10000, Alone: true, Price: money(t, "31", "EUR"), Payer: "Marta", Drawn: []unit.Grams{200, 200}}}
	shares, err := Charge([][]Lot{lots}, []string{"Joon", "Marta"})
	if err != nil || shares[0].Balance.Decimal() != "0.62" || shares[1].Balance.Decimal() != "-0.62" { // 200 g of 10 kg for 31.00
		t.Errorf("%+v, %v", shares, err)
	}
}

// TestChargeBalances: whatever happened, the balances add up to nothing, and no lot is charged beyond its price.
func TestChargeBalances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		members := []string{"I", "J", "M", "B"}[:rapid.IntRange(1, 4).Draw(t, "members")]
		lot := rapid.Custom(func(t *rapid.T) Lot {
			price, _ := unit.NewMoney(rapid.Int64Range(0, 9999).Draw(t, "price"), "EUR")
			l := Lot{Net: unit.Grams(rapid.Float64Range(0, 12000).Draw(t, "net")), Price: price, Payer: rapid.SampledFrom([]string{"", "I", "J", "B"}).Draw(t, "payer"),
				Stock: unit.Grams(rapid.Float64Range(0, 15000).Draw(t, "stock")), Alone: rapid.Bool().Draw(t, "alone"), Lost: unit.Grams(rapid.Float64Range(0, 500).Draw(t, "lost"))}
			for range members {
				l.Drawn = append(l.Drawn, unit.Grams(rapid.Float64Range(0, 4000).Draw(t, "drawn")))
			}
			return l
		})
		shares, err := Charge(rapid.SliceOfN(rapid.SliceOfN(lot, 1, 6), 1, 2).Draw(t, "cylinders"), members)
		if err != nil {
			t.Fatal(err)
		}
		balance, cost, repaid := int64(0), int64(0), int64(0)
		for _, s := range shares {
			balance, cost, repaid = balance+s.Balance.Minor(), cost+s.Cost.Minor(), repaid+s.Repaid.Minor()
			if s.Repaid.Minor() > s.Paid.Minor() || s.Balance.Minor() != s.Cost.Minor()-s.Repaid.Minor() {
				t.Fatalf("%+v", s)
			}
		}
		if balance != 0 || cost != repaid {
			t.Fatalf("balances add up to %d, charged %d, repaid %d", balance, cost, repaid)
		}
	})
}

func TestDrawn(t *testing.T) {
	for _, r := range []struct {
		rule          string
		used, serving unit.Grams
		servings      []float64
		want          []unit.Grams
	}{
		{"nothing logged: equally", 1000, 6, []float64{0, 0}, []unit.Grams{500, 500}},
		{"all logged", 600, 6, []float64{75, 25}, []unit.Grams{450, 150}},
		{"the rest equally", 1200, 6, []float64{75, 25}, []unit.Grams{750, 450}},
		{"more logged than used", 300, 6, []float64{75, 25}, []unit.Grams{225, 75}},
		{"serving unknown: by number", 1000, 0, []float64{3, 1}, []unit.Grams{750, 250}},
		{"nothing used", 0, 6, []float64{3, 1}, []unit.Grams{0, 0}},
		{"nobody", 100, 6, nil, nil},
	} {
		got := Drawn(r.used, r.serving, r.servings)
		if !slices.EqualFunc(got, r.want, func(a, b unit.Grams) bool { return math.Abs(float64(a-b)) < 1e-9 }) {
			t.Errorf("%s: %v, want %v", r.rule, got, r.want)
		}
	}
}

// Shares add up to the last minor unit, none is off by more than one from its exact part, and more weight never
// gets less.
func TestSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := unit.NewMoney(rapid.Int64Range(-1e9, 1e9).Draw(t, "minor"), "EUR")
		weights := rapid.SliceOfN(rapid.Float64Range(0, 50), 1, 9).Draw(t, "weights")
		total, sum := 0.0, int64(0)
		for _, w := range weights {
			total += w
		}
		shares := split(m, weights)
		for i, s := range shares {
			sum += s.Minor()
			part := weights[i] / total
			if total == 0 {
				part = 1 / float64(len(weights))
			}
			if exact := float64(m.Minor()) * part; math.Abs(float64(s.Minor())-exact) > 1+1e-6 {
				t.Errorf("share %d is %d, exactly %g", i, s.Minor(), exact)
			}
		}
		if sum != m.Minor() {
			t.Errorf("%v was split into %v", m, shares)
		}
	})
	ten := split(money(t, "10", "EUR"), []float64{1, 1, 1})
	if ten[0].Minor() != 334 || ten[1].Minor() != 333 || ten[2].Minor() != 333 {
		t.Errorf("10 EUR by three: %v", ten)
	}
	inf := math.Inf(1)
	odd := split(money(t, "10", "EUR"), []float64{1e308, 1e308, -1, inf, math.NaN()})
	if odd[0].Minor() != 500 || odd[1].Minor() != 500 {
		t.Errorf("huge and impossible weights: %v", odd)
	}
	if got := split(money(t, "10", "EUR"), nil); len(got) != 0 {
		t.Errorf("for nobody: %v", got)
	}
}
