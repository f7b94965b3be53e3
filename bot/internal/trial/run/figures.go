package main

import (
	"fmt"
	"os"
	"strings"

	"tarebell/bot/internal/trial"
)

// figuresCommand prints what is worth comparing between two versions.
type figuresCommand struct {
	sample
	Years float64 `default:"2" help:"How long households live."`
	Score int     `default:"48" help:"How many cylinders of each family are scored."`
}

// What the tables show.
var (
	standardLaws = []string{"plain", "weekend", "season", "series"}
	yearsColumns = []string{"refills", "dry_spells", "leftover_d", "leftover_d_mean", "slow_told", "medium_told", "valve_told", "violent_told", "lost_kg", "false_alarms", "typed", "posts"}
	scoreColumns = []string{"qloss", "vs_maker", "cover80", "cover90", "first80", "stockout", "leftover_d", "false_leaks", "none"}
	leakColumns  = []string{"slow_found", "slow_h", "slow_g", "shown_found", "medium_found", "medium_h", "medium_g", "valve_found", "valve_h", "valve_g", "violent_found", "violent_h", "violent_g", "false_leaks"}
)

func (c *figuresCommand) Run() error {
	fmt.Printf("# Figures\n\nWritten by `go run ./bot/internal/trial/run figures --seed %d --count %d --years %g --score %d --risk %g`.\n", c.Seed, c.Count, c.Years, c.Score, c.Risk)
	fmt.Println("What the columns mean: `go doc ./bot/internal/trial Years` and `Scores`.")
	fmt.Printf("\n## %d households of each sort, %g years\n\n", c.Count, c.Years)
	if err := c.years(); err != nil {
		return err
	}
	s := c.sample
	s.Count = c.Score
	fmt.Printf("\n## %d cylinders of each sort to their ends\n\n", s.Count)
	if err := table(scoreColumns, s.scores("auto", "typed", "trouble", "rough", "careless")); err != nil {
		return err
	}
	fmt.Printf("\n## %d cylinders with a loss\n\n", s.Count)
	return table(leakColumns, s.scores("leak"))
}

// aCase is a row to come.
type aCase struct {
	name    string
	figures func() ([]trial.Figure, error)
}

// table prints a table once all its rows are there.
func table(columns []string, cases []aCase) error {
	var rows []trial.Row
	for _, c := range cases {
		fmt.Fprintln(os.Stderr, c.name)
		figures, err := c.figures()
		if err != nil {
			return err
		}
		rows = append(rows, trial.Row{Case: c.name, Figures: figures})
	}
	trial.WriteTable(os.Stdout, columns, rows)
	return nil
}

func (c *figuresCommand) years() error {
	var cases []aCase
	for _, family := range []trial.Family{trial.Auto, trial.Typed} {
		for _, losses := range []bool{false, true} {
			for _, law := range standardLaws {
				if !c.has(law) {
					continue
				}
				y := yearsCommand{sample: c.sample, Family: family, Years: c.Years, Losses: losses, Policy: trial.Engine}
				name := []string{string(family), law}
				if losses {
					name = append(name, "losses")
				}
				cases = append(cases, aCase{strings.Join(name, ", "), func() ([]trial.Figure, error) { return y.figures(law) }})
			}
		}
	}
	return table(yearsColumns, cases)
}

// scores are cases of families, law plain.
func (s sample) scores(families ...trial.Family) (out []aCase) {
	for _, family := range families {
		c := scoreCommand{sample: s, Family: family, Guess: 0.5}
		out = append(out, aCase{string(family), func() ([]trial.Figure, error) { return c.figures("plain") }})
	}
	return out
}
