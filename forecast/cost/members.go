package cost

import "tarebell/forecast/unit"

// Member is one of the household: the servings logged for them and what they paid, in the same span of time.
type Member struct {
	Name     string
	Servings float64
	Paid     Money
}

// Share is what a member's part comes to.
type Share struct {
	Name    string
	Gas     unit.Grams
	Cost    Money
	Balance Money // Cost less what was paid: above 0 is owed, below 0 is to be got back
}

// Settlement is how the cost of the gas used in a span of time divides.
type Settlement struct {
	Shares   []Share // in the order of the members
	Unlogged unit.Grams
}

// Settle divides total, the cost of the gas used, among members. Logged servings count at perServing grams each
// (when that is not known, they divide all of the gas); gas that nobody logged is divided equally, and with no serving
// logged so is everything. When more is logged than was used, the logged servings are scaled down. Shares add up to
// total to the last minor unit. It is an error when currencies differ.
func Settle(total Money, used, perServing unit.Grams, members []Member) (Settlement, error) {
	used = unit.Grams(positive(float64(used)))
	servings := 0.0
	for _, m := range members {
		servings += positive(m.Servings)
	}
	each := positive(float64(perServing))
	if each == 0 || each*servings > float64(used) {
		each = 0
		if servings > 0 {
			each = float64(used) / servings
		}
	}
	s := Settlement{Unlogged: max(0, used-unit.Grams(each*servings))}
	weights := make([]float64, len(members))
	for i, m := range members {
		weights[i] = each*positive(m.Servings) + float64(s.Unlogged)/float64(len(members))
	}
	for i, part := range total.Split(weights) {
		balance, err := part.Add(members[i].Paid.Neg())
		if err != nil {
			return Settlement{}, err
		}
		s.Shares = append(s.Shares, Share{members[i].Name, unit.Grams(weights[i]), part, balance})
	}
	return s, nil
}
