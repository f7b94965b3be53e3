package cost

import (
	"errors"
	"math"
	"sort"

	"tarebell/forecast/unit"
)

// Lot is gas that came into a cylinder at one time, with what became of the cylinder's gas until the next lot came.
type Lot struct {
	Net   unit.Grams // that came in
	Price unit.Money // zero: it has none
	Payer string     // who is owed for it; "": nobody
	Stock unit.Grams // all that was in the cylinder then; 0: not known
	Alone bool       // what was there before went away, as in a swap

	Drawn []unit.Grams // of whatever lot, by each member
	Lost  unit.Grams   // without use
}

// Share is what a member's part comes to.
type Share struct {
	Name    string
	Gas     unit.Grams
	Cost    unit.Money // of the gas they drew
	Paid    unit.Money // for gas, drawn or not
	Repaid  unit.Money // for what was drawn of it, by everybody
	Balance unit.Money // Cost less Repaid: above 0 is owed, below 0 is to be got back
}

// Drawn divides the gas that was used among members by the servings logged for them. They count at perServing grams each (when that
// is not known they divide all of the gas); gas that nobody logged is divided equally, and with no serving logged so is everything. When
// more is logged than was used, the logged servings are scaled down.
func Drawn(used, perServing unit.Grams, servings []float64) []unit.Grams {
	used = unit.Grams(positive(float64(used)))
	total := 0.0
	for _, n := range servings {
		total += positive(n)
	}
	each := positive(float64(perServing))
	if total > 0 && (each == 0 || each*total > float64(used)) {
		each = float64(used) / total
	}
	rest := max(0, float64(used)-each*total) / float64(len(servings))
	out := make([]unit.Grams, len(servings))
	for i, n := range servings {
		out[i] = unit.Grams(each*positive(n) + rest)
	}
	return out
}

// Charge charges the lots of each cylinder, oldest first, to those who drew them, in favour of who paid each.
//
// Gas is drawn first in, first out. What is drawn of a lot of net N and price P, in grams, costs P/N each; all that was drawn of a lot is
// charged together and divided by who drew it, to the last minor unit. What was lost, what is still there and what went away with a
// swapped cylinder stays with who paid; a lot without price or payer is charged to nobody. So the balances always add up to nothing.
//
// By hand, for I, J, M and B. The first gas, 2,000 g, has no price; 1,500 g are drawn. I pays 40.00 for 8,000 g (0.5 cents each). I, J, M and B
// draw 1,800, 1,350, 900 and 450 g: 500 g of the first gas, then 4,000 g for 20.00, so 8.00, 6.00, 4.00 and 2.00. M pays 30.00 for 5,000 g
// (0.6 cents). Each draws 1,500 g: in all the other 4,000 g for 20.00, and 2,000 g for 12.00; so 5.00 and 3.00 each. B pays 45.00 for a swap
// of 10,000 g; 3,000 g go away with the old cylinder. Each draws 250 g for 1.125; 200 g are lost. I drew for 17.13 and gets 40.00: -22.87. J
// drew for 15.13. M drew for 13.12 and gets 12.00: 1.12. B drew for 11.12 and gets 4.50: 6.62. Sum: 0.00. See TestChargeByHand.
//
// The shares are in the order of the members; payers must be among them. It is an error when currencies differ.
func Charge(cylinders [][]Lot, members []string) ([]Share, error) {
	shares := make([]Share, len(members))
	for i, name := range members {
		shares[i].Name = name
	}
	for _, lots := range cylinders {
		if err := charge(lots, members, shares); err != nil {
			return nil, err
		}
	}
	return shares, nil
}

// charge adds the lots of one cylinder to the shares.
func charge(lots []Lot, members []string, shares []Share) error {
	drawn := make([][]float64, len(lots)) // by lot and member
	left := make([]float64, len(lots))
	for k, l := range lots {
		drawn[k] = make([]float64, len(members))
		keep(left[:k], l)
		left[k] = positive(float64(l.Net))
		draw(left[:k+1], drawn, l)
		for i, g := range l.Drawn {
			shares[i].Gas += g
		}
	}
	for k, l := range lots {
		if err := l.charge(drawn[k], members, shares); err != nil {
			return err
		}
	}
	return nil
}

// keep takes away from the lots before what was not in the cylinder any more when l came.
func keep(left []float64, l Lot) {
	room := math.Inf(1)
	if l.Stock > 0 {
		room = max(0, float64(l.Stock-l.Net))
	}
	if l.Alone {
		room = 0
	}
	for k := len(left) - 1; k >= 0; k-- { // the oldest was drawn
		left[k] = min(left[k], room)
		room -= left[k]
	}
}

// draw takes what l says was drawn and lost from what is left of the lots, oldest first. What cannot be there is drawn of none.
func draw(left []float64, drawn [][]float64, l Lot) {
	total := positive(float64(l.Lost))
	for _, g := range l.Drawn {
		total += positive(float64(g))
	}
	rest := total
	for k := range left {
		part := min(left[k], rest)
		left[k] -= part
		rest -= part
		for i, g := range l.Drawn {
			if total > 0 {
				drawn[k][i] += part * positive(float64(g)) / total
			}
		}
	}
}

// charge adds what was drawn of l to the shares.
func (l Lot) charge(drawn []float64, members []string, shares []Share) error {
	payer := -1
	total := 0.0
	for i, name := range members {
		total += drawn[i]
		if name == l.Payer && name != "" {
			payer = i
		}
	}
	if payer < 0 || !l.Price.Known() || !(l.Net > 0) {
		return nil
	}
	all := l.Price.Times(min(1, total/float64(l.Net)))
	var errs [3]error
	p := &shares[payer]
	p.Paid, errs[0] = p.Paid.Add(l.Price)
	p.Repaid, errs[1] = p.Repaid.Add(all)
	p.Balance, errs[2] = p.Balance.Add(all.Neg())
	if err := errors.Join(errs[:]...); err != nil {
		return err
	}
	for i, part := range split(all, drawn) {
		s := &shares[i]
		s.Cost, errs[0] = s.Cost.Add(part)
		s.Balance, errs[1] = s.Balance.Add(part)
		if err := errors.Join(errs[:]...); err != nil {
			return err
		}
	}
	return nil
}

// split divides m by weights of 0 or more, to the last minor unit: shares are rounded down and what is left goes, one
// unit each, to the largest remainders, the first of equals (Hare's method). Without any weight above 0 all
// are equal. There is one share per weight; none for none.
func split(m unit.Money, weights []float64) []unit.Money {
	largest, total := 0.0, 0.0
	for _, w := range weights {
		largest = max(largest, positive(w))
	}
	for _, w := range weights {
		total += positive(w) / largest // not a number without any weight
	}
	shares := make([]unit.Money, len(weights))
	rest := make([]float64, len(weights))
	order := make([]int, len(weights))
	left := m.Minor()
	for i, w := range weights {
		part := positive(w) / largest / total
		if !(total > 0) {
			part = 1 / float64(len(weights))
		}
		exact := float64(m.Minor()) * part
		shares[i] = m.With(math.Floor(exact))
		rest[i], order[i] = exact-math.Floor(exact), i
		left -= shares[i].Minor()
	}
	sort.SliceStable(order, func(a, b int) bool { return rest[order[a]] > rest[order[b]] })
	for i := 0; left != 0 && len(order) > 0; i = (i + 1) % len(order) {
		step := int64(1)
		if left < 0 {
			step = -1
		}
		share := &shares[order[i]]
		*share = share.With(float64(share.Minor() + step))
		left -= step
	}
	return shares
}

// positive is w, or 0 when it is negative, infinite or not a number.
func positive(w float64) float64 {
	if w > 0 && !math.IsInf(w, 0) {
		return w
	}
	return 0
}
