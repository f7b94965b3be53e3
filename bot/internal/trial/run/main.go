// Command run lets invented households live with the engine and prints what came of it. See package trial.
package main

import (
	"fmt"
	"os"
	"time"

	"github.com/alecthomas/kong"

	"tarebell/bot/internal/trial"
)

// sample says which households.
type sample struct {
	Law     []string `default:"plain" help:"How they use gas: one or more of the laws, or all."`
	Seed    uint64   `required:"" help:"Another seed, other households."`
	Count   int      `default:"24" help:"How many of each law."`
	Series  string   `default:"../shared/data" placeholder:"PATH" help:"Daily use of real homes, for the law series: a CSV with columns series and value, or a folder of daily meters."`
	Risk    float64  `default:"0.05" help:"Accepted probability of running dry."`
	Jobs    int      `help:"Households at once; as many as there are processors if left out."`
	Verbose bool     `short:"v" help:"A line for each household, too."`
}

type yearsCommand struct {
	sample
	Family string  `default:"auto" enum:"auto,typed,rough,careless" help:"How they weigh: ${enum}."`
	Years  float64 `default:"2" help:"How long they live."`
	Losses bool    `default:"true" negatable:"" help:"Gas escapes now and then."`
	Policy string  `default:"engine" enum:"engine,maker,truth" help:"By what they book: ${enum}."`
	Margin float64 `default:"7" help:"Days added to the lead by maker and truth."`
	Story  bool    `help:"Tell all that is said and done, household by household."`
}

type scoreCommand struct {
	sample
	Family string  `default:"auto" enum:"auto,typed,leak,trouble,rough,careless" help:"How they weigh, and what befalls them: ${enum}."`
	Guess  float64 `default:"0.5" help:"How far off a household's own guess of its use is: sd of the logarithm."`
}

type lawsCommand struct{}

func main() {
	var p struct {
		Years yearsCommand `cmd:"" help:"Households live with the engine for years and book when it says so."`
		Score scoreCommand `cmd:"" help:"Cylinders come to their ends, and what was said is judged."`
		Laws  lawsCommand  `cmd:"" help:"The laws by which households use gas."`
	}
	k := kong.Parse(&p, kong.Name("run"), kong.Description("Invented households with known truth live with the engine."))
	k.FatalIfErrorf(k.Run())
}

func (*lawsCommand) Run() error {
	for _, l := range trial.Laws {
		fmt.Printf("%-9s %s\n", l.Name, l.About)
	}
	return nil
}

// each runs f for every law meant, with its households' specs.
func (s *sample) each(family string, f func(specs []trial.Spec) error) error {
	names := s.Law
	if len(names) == 1 && names[0] == "all" {
		names = nil
		for _, l := range trial.Laws {
			names = append(names, l.Name)
		}
	}
	for _, name := range names {
		law, err := trial.LawNamed(name)
		if err != nil {
			return err
		}
		var series [][]float64
		if name == "series" {
			if series, err = trial.ReadSeries(s.Series); err != nil {
				fmt.Printf("== %s, law series: left out: %v\n", family, err)
				continue
			}
		}
		specs := make([]trial.Spec, s.Count)
		for i := range specs {
			specs[i] = trial.Spec{Seed: s.Seed*1000 + uint64(i), Family: trial.Family(family), Law: law, Risk: s.Risk, Series: series}
		}
		begun := time.Now()
		fmt.Printf("== %s, law %s, seed %d\n", family, name, s.Seed)
		if err := f(specs); err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "  %.1f s\n", time.Since(begun).Seconds())
	}
	return nil
}

func (c *yearsCommand) Run() error {
	var story trial.Story
	if c.Story {
		story, c.Jobs = trial.WriteStory(os.Stdout), 1
	}
	return c.each(c.Family, func(specs []trial.Spec) error {
		lives := make([]trial.Life, len(specs))
		err := trial.Each(len(specs), c.Jobs, func(i int) (err error) {
			specs[i].Days, specs[i].Losses = int(c.Years*365.25), c.Losses
			lives[i], err = trial.Live(trial.NewHome(specs[i]), trial.Policy(c.Policy), c.Margin, story)
			return err
		})
		if err != nil {
			return err
		}
		if c.Verbose {
			for _, l := range lives {
				trial.WriteLife(os.Stdout, l)
			}
		}
		trial.WriteYears(os.Stdout, lives)
		return nil
	})
}

func (c *scoreCommand) Run() error {
	return c.each(c.Family, func(specs []trial.Spec) error {
		scores := make([]trial.Score, len(specs))
		err := trial.Each(len(specs), c.Jobs, func(i int) (err error) {
			specs[i].Days, specs[i].Single = 1500, true
			scores[i], err = trial.Follow(trial.NewHome(specs[i]), c.Guess)
			return err
		})
		if err != nil {
			return err
		}
		if c.Verbose {
			for _, s := range scores {
				trial.WriteScored(os.Stdout, s)
			}
		}
		trial.WriteScore(os.Stdout, scores)
		return nil
	})
}
