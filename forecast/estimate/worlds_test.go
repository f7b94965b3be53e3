package estimate

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

type truth struct {
	Name, Family, Start string
	TareTrue            float64   `json:"tare_true"`
	Daily               []float64 `json:"daily_kg"`
	Heel                float64
	DryLiquid           float64 `json:"dry_liquid"`
	Lead                float64
	SigmaG              float64 `json:"sigma_g"`
	Tempco              float64
	Rezero              [][2]any
	RunOut              string `json:"run_out"`
}

// TestWorlds replays the simulated households through a crude gate that knows the truth, for development.
func TestWorlds(t *testing.T) {
	out := os.Getenv("ESTIMATE_WORLDS")
	if out == "" {
		t.Skip("set ESTIMATE_WORLDS to a directory for the forecasts")
	}
	root := "../../../shared/worlds"
	if r := os.Getenv("ESTIMATE_ROOT"); r != "" {
		root = r
	}
	files, _ := filepath.Glob(root + "/truth/*.json")
	sem := make(chan bool, 2)
	var wg sync.WaitGroup
	for _, f := range files {
		if strings.Contains(f, "leak") {
			continue
		}
		wg.Add(1)
		go func() {
			sem <- true
			defer func() { <-sem; wg.Done() }()
			replayWorld(t, root, f, out)
		}()
	}
	wg.Wait()
}

func replayWorld(t *testing.T, root, f, out string) {
	var tr truth
	b, _ := os.ReadFile(f)
	if err := json.Unmarshal(b, &tr); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(root, tr.Name)
	cfg, _ := os.ReadFile(dir + "/house.yaml")
	get := func(k string) float64 {
		v, _ := strconv.ParseFloat(strings.Fields(strings.SplitN(string(cfg), k+":", 2)[1])[0], 64)
		return v * 1000
	}
	start, _ := time.Parse(time.RFC3339, tr.Start)
	fl := New(Options{House: unit.Grams(get("tare") + get("fittings")), NetFill: unit.Grams(get("net_fill")), Heel: unit.Grams(tr.Heel * 1000), Seed: 1})
	fl.Filled(start, unit.Grams(get("net_fill")), 0)
	g, err := os.Open(dir + "/weighings.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	rd := csv.NewReader(bufio.NewReader(g))
	rows, _ := rd.ReadAll()
	o, _ := os.Create(filepath.Join(out, tr.Name+".jsonl"))
	defer o.Close()
	w := bufio.NewWriter(o)
	defer w.Flush()
	var next time.Time
	base, due := 0.0, false
	rz := 0
	temp0 := math.NaN()
	say := func(at time.Time) {
		_, q := fl.Forecast(at, unit.Grams(tr.Heel*1000), unit.Grams(tr.DryLiquid*1000))
		st := fl.State(at)
		fmt.Fprintf(w, `{"record":"forecast","at":"%s","gas":[%.0f,%.0f],"use":[%.1f,%.1f],"off":[%.0f,%.0f],"noise":%.1f,"away":%.2f,"run_out":{`, at.UTC().Format(time.RFC3339), st.Gas.Mean, st.Gas.SD, st.Use.Mean, st.Use.SD, st.Offset.Mean, st.Offset.SD, st.NoiseSD, st.Away)
		for i, p := range []float64{.05, .1, .25, .5, .75, .9, .95} {
			if i > 0 {
				fmt.Fprint(w, ",")
			}
			fmt.Fprintf(w, `"p%02.0f":`, p*100)
			if d, ok := q.Quantile(p).After(at); ok {
				fmt.Fprintf(w, `"%s"`, d.UTC().Format(time.RFC3339))
			} else {
				fmt.Fprint(w, "null")
			}
		}
		fmt.Fprintln(w, "}}")
		if !due && q.CDF(unit.Days(tr.Lead+1)) > 0.05 {
			due = true
			fmt.Fprintf(w, `{"record":"notice","at":"%s","kind":"refill-due"}`+"\n", at.UTC().Format(time.RFC3339))
		}
	}
	for _, r := range rows[1:] {
		at, _ := time.Parse(time.RFC3339, r[0])
		y, _ := strconv.ParseFloat(r[1], 64)
		y *= 1000
		manual := r[3] == "manual"
		if next.IsZero() {
			next = at.Add(24 * time.Hour)
		}
		for !at.Before(next) {
			say(next)
			next = next.Add(24 * time.Hour)
		}
		var stepSD unit.Grams
		for rz < len(tr.Rezero) {
			ra, _ := time.Parse(time.RFC3339, tr.Rezero[rz][0].(string))
			if ra.After(at) {
				break
			}
			base += tr.Rezero[rz][1].(float64) * 1000
			stepSD = 15
			rz++
		}
		y -= base
		d := at.Sub(start).Hours() / 24
		i := int(d)
		if i >= 0 && i+1 < len(tr.Daily) {
			m := (tr.Daily[i] + (tr.Daily[i+1]-tr.Daily[i])*(d-float64(i))) * 1000
			lim := 5*tr.SigmaG + 60 + (tr.Daily[i]-tr.Daily[i+1])*1000
			if manual {
				lim = 2000
			}
			if math.Abs(y-m-tr.TareTrue*1000) > lim {
				continue
			}
		}
		if tc, err := strconv.ParseFloat(r[2], 64); err == nil && os.Getenv("TEMPCO") != "" {
			if math.IsNaN(temp0) {
				temp0 = tc
			}
			temp0 += (tc - temp0) * 0.0005
			y -= 0.8 * tr.Tempco * (tc - temp0)
		}
		fl.Observe(Observation{At: at, Gross: unit.Grams(y), StepSD: stepSD, Manual: manual})
	}
	say(next)
	_ = runout.Distribution{}
}
