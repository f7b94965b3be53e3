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
	Seed    uint64  `required:"" help:"Another seed, other households."`
	Count   int     `default:"24" help:"How many of each sort."`
	Series  string  `default:"../shared/data" placeholder:"DIR" help:"Folder with the daily use of real homes, for the law series."`
	Risk    float64 `default:"0.05" help:"Accepted probability of running dry."`
	Again   bool    `help:"Scales are read again, and sooner, when the engine asks for it."`
	Jobs    int     `help:"Households at once; as many as there are processors if left out."`
	Verbose bool    `short:"v" help:"A line for each household, too."`
}

type yearsCommand struct {
	sample
	Law    []string     `default:"plain" help:"How they use gas: one or more of the laws, or all."`
	Family trial.Family `default:"auto" enum:"auto,typed,rough,careless" help:"How they weigh: ${enum}."`
	Years  float64      `default:"2" help:"How long they live."`
	Losses bool         `default:"true" negatable:"" help:"Gas escapes now and then."`
	Policy trial.Policy `default:"engine" enum:"engine,maker,truth" help:"By what they book: ${enum}."`
	Margin float64      `default:"7" help:"Days added to the lead by maker and truth."`
	Story  bool         `help:"Tell all that is said and done, household by household."`
}

type scoreCommand struct {
	sample
	Law    []string     `default:"plain" help:"How they use gas: one or more of the laws, or all."`
	Family trial.Family `default:"auto" enum:"auto,typed,leak,trouble,rough,careless" help:"How they weigh, and what befalls them: ${enum}."`
	Guess  float64      `default:"0.5" help:"How far off a household's own guess of its use is: sd of the logarithm."`
}

type lawsCommand struct{}

func main() {
	var p struct {
		Years   yearsCommand   `cmd:"" help:"Households live with the engine for years and book when it says so."`
		Score   scoreCommand   `cmd:"" help:"Cylinders come to their ends, and what was said is judged."`
		Figures figuresCommand `cmd:"" help:"Tables of both, for a standard set of households."`
		Laws    lawsCommand    `cmd:"" help:"The laws by which households use gas."`
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

// specs are the households of a law and a family.
func (s *sample) specs(law string, family trial.Family) ([]trial.Spec, error) {
	spec := trial.Spec{Family: family, Risk: s.Risk, Again: s.Again}
	var err error
	if spec.Law, err = trial.LawNamed(law); err != nil {
		return nil, err
	}
	if law == "series" {
		if spec.Series, err = trial.ReadSeries(s.Series); err != nil {
			return nil, err
		}
	}
	out := make([]trial.Spec, s.Count)
	for i := range out {
		spec.Seed = s.Seed*1000 + uint64(i)
		out[i] = spec
	}
	return out, nil
}

// named are the laws meant.
func (s *sample) named(laws []string) (out []string) {
	if len(laws) != 1 || laws[0] != "all" {
		return laws
	}
	for _, l := range trial.Laws {
		if s.has(l.Name) {
			out = append(out, l.Name)
		}
	}
	return out
}

// has is whether there is what a law needs, and says so if not.
func (s *sample) has(law string) bool {
	if law != "series" {
		return true
	}
	_, err := os.Stat(s.Series)
	if err != nil {
		fmt.Fprintf(os.Stderr, "law series left out: %v\n", err)
	}
	return err == nil
}

// print prints the figures that f makes of each law.
func (s *sample) print(laws []string, family trial.Family, f func(law string) ([]trial.Figure, error)) error {
	for _, law := range s.named(laws) {
		begun := time.Now()
		fmt.Printf("== %s, law %s\n", family, law)
		figures, err := f(law)
		if err != nil {
			return err
		}
		trial.WriteFigures(os.Stdout, figures)
		fmt.Fprintf(os.Stderr, "  %.1f s\n", time.Since(begun).Seconds())
	}
	return nil
}

func (c *yearsCommand) Run() error { return c.print(c.Law, c.Family, c.figures) }

func (c *yearsCommand) figures(law string) ([]trial.Figure, error) {
	specs, err := c.specs(law, c.Family)
	if err != nil {
		return nil, err
	}
	var story trial.Story
	if c.Story {
		story, c.Jobs = trial.WriteStory(os.Stdout), 1
	}
	lives := make([]trial.Life, len(specs))
	err = trial.Each(len(specs), c.Jobs, func(i int) (err error) {
		specs[i].Days, specs[i].Losses = int(c.Years*365.25), c.Losses
		lives[i], err = trial.Live(trial.NewHome(specs[i]), c.Policy, c.Margin, story)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range lives {
		if c.Verbose {
			trial.WriteLife(os.Stdout, lives[i])
		}
	}
	return trial.Years(lives), nil
}

func (c *scoreCommand) Run() error { return c.print(c.Law, c.Family, c.figures) }

func (c *scoreCommand) figures(law string) ([]trial.Figure, error) {
	specs, err := c.specs(law, c.Family)
	if err != nil {
		return nil, err
	}
	scores := make([]trial.Score, len(specs))
	err = trial.Each(len(specs), c.Jobs, func(i int) (err error) {
		specs[i].Days, specs[i].Single = 1500, true
		scores[i], err = trial.Follow(trial.NewHome(specs[i]), c.Guess)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range scores {
		if c.Verbose {
			trial.WriteScored(os.Stdout, scores[i])
		}
	}
	return trial.Scores(scores), nil
}
