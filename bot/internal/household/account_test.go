package household

import (
	"bytes"
	"math"
	"testing"
	"time"

	"tarebell/bot/internal/checkpoint"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestAccount: what is drawn, lost and paid adds up over two fills.
func TestAccount(t *testing.T) {
	o := options()
	price := func(minor int64) unit.Money { m, _ := unit.NewMoney(minor, "EUR"); return m }
	o.Members = []record.Member{{Name: "Ines", Carries: true}, {Name: "Joon", Carries: true}}
	e := New(o)
	feedAll(e, readings(start, 60, 5_900, 55))
	e.Apply(record.Event{At: start.AddDate(0, 0, 60), Kind: record.Filled, Net: 5_900, Price: price(3_100), By: "Ines"})
	feedAll(e, readings(start.AddDate(0, 0, 60).Add(time.Hour), 30, 5_900, 55))
	e.Apply(record.Event{At: e.Now(), Kind: record.Made, Count: 40, By: "Joon"})
	a := e.Account(e.Now())
	if len(a.Fills) != 2 || a.Fills[0].Until != a.Fills[1].At || !a.Fills[0].First {
		t.Fatalf("fills %+v", a.Fills)
	}
	if want := 55 * 90.0; math.Abs(float64(a.Used)-want) > 0.05*want {
		t.Errorf("%v g used, want about %v", a.Used, want)
	}
	if a.Assumed || math.Abs(a.Gas.Minor()-3_100.0/5_900) > 1e-9 {
		t.Errorf("a gram is %v cents", a.Gas.Minor())
	}
	var shares, balance int64
	for i, s := range a.Shares {
		shares += s.Cost.Minor()
		balance += s.Balance.Minor()
		if s.Name != a.Members[i].Name {
			t.Errorf("share of %s beside %s", s.Name, a.Members[i].Name)
		}
	}
	// Nobody paid for the first fill; of the second, 31.00 for 5,900 g, 30 days of 55 g are drawn.
	if want := 3_100 * 30 * 55.0 / 5_900; math.Abs(float64(shares)-want) > 0.1*want || balance != 0 {
		t.Errorf("charged %d, want about %.0f; balances add up to %d", shares, want, balance)
	}
	if s := a.Shares[0]; s.Repaid.Minor() != shares || s.Paid.Minor() != 3_100 {
		t.Errorf("Ines paid: %+v", s)
	}
}

// TestStockHasItsPrice: the gas that was there first is charged at the price the household gives it, in favour of who paid it, else to nobody.
func TestStockHasItsPrice(t *testing.T) {
	for _, minor := range []int64{0, 1_800} {
		o := options()
		o.Members = []record.Member{{Name: "Ines", Carries: true}, {Name: "Joon", Carries: true}}
		if minor > 0 {
			o.Cylinders[0].Stock, _ = unit.NewMoney(minor, "EUR")
			o.Cylinders[0].StockBy = "Ines"
		}
		e := New(o)
		feedAll(e, readings(start, 40, 5_900, 55))
		e.Apply(record.Event{At: e.Now(), Kind: record.Made, Count: 10, By: "Joon"})
		a := e.Account(e.Now())
		charged, balance := int64(0), int64(0)
		for _, s := range a.Shares {
			charged, balance = charged+s.Cost.Minor(), balance+s.Balance.Minor()
		}
		// 40 days of 55 g, of 5,900 g for 18.00.
		if want := float64(minor) * 40 * 55 / 5_900; math.Abs(float64(charged)-want) > 0.1*want || balance != 0 {
			t.Errorf("at %d: charged %d, want about %.0f; balances add up to %d", minor, charged, want, balance)
		}
		if a.Gas.Known() != (minor > 0) {
			t.Errorf("at %d: a gram is %v", minor, a.Gas)
		}
	}
}

// TestAskingChangesNothing: what is asked for between two inputs leaves no trace in the state.
func TestAskingChangesNothing(t *testing.T) {
	e, _ := losing(5)
	kept := func() []byte {
		state, err := checkpoint.Encode(e, time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		return state
	}
	before, later := kept(), e.Now().AddDate(0, 0, 3)
	e.Account(later)
	e.Situation("", later)
	e.Level("", later)
	e.Passage("", later, 1_000)
	if !bytes.Equal(kept(), before) {
		t.Error("the state is another one")
	}
}
