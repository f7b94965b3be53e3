package command

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// servingSteps is how to weigh a serving.
var servingSteps = []string{
	"1. Weigh a bottle of plain cold water as you fill it, in grams; carbonate it as usual; weigh it again. Three bottles are better than one.",
	"2. Weigh the cylinder before and after, with as many servings between as you can: one serving is less than most scales show.",
	"3. Enter what you have of it, for example /serving bottles:\"1012.4 > 1018.5 g, 1010.2 > 1016.0 g\" platform:\"21.34 > 21.26 kg\" servings:12",
	"With water:\"5 C\" and pressure:\"4 barg\" it is also held against what water can take up.",
}

func (h *Handler) serving(_ context.Context, r request, s notice.Situation) (chat.Answer, error) {
	if strings.TrimSpace(r.options["bottles"]+r.options["platform"]) == "" {
		a := say("How much gas a serving takes is found by weighing.", servingSteps...)
		if s.Litres <= 0 {
			a.Message.Body = append(a.Message.Body, "How much drink one serving is was not told yet; add litres:0.84, or put serving into the config.")
		}
		return withButtons(a, button("serve", "", "Enter the figures…")), nil
	}
	e, err := h.readExperiment(r.options, s)
	if err != nil {
		return chat.Answer{}, err
	}
	result, err := serving.Evaluate(e)
	if err != nil {
		return chat.Answer{}, &Problem{"That cannot be evaluated: " + strings.TrimRight(plain(err), "?.") + ".", "Check the two weights of each pair."}
	}
	x := notice.Experiment{Result: result, Planned: s.Serving}
	if err := h.judge(&x, r.options); err != nil {
		return chat.Answer{}, err
	}
	head, body := h.opt.Voice.Experiment(x)
	a := say(head, body...)
	if g, ok := result.PerServing(); ok && !result.Clash && g.Mean > 0 {
		arg := fmt.Sprintf("%.2f:%s:%s", float64(g.Mean), strconv.FormatFloat(float64(result.Litres), 'f', -1, 64), r.id)
		return withButtons(a, button("serving", arg, "Plan with "+h.opt.Voice.Fine(g.Mean)+" a serving"), leaveButton("Leave it as it is")), nil
	}
	return a, nil
}

// plain is an error without the package's name in front.
func plain(err error) string {
	text := err.Error()
	for before, after, ok := strings.Cut(text, ": "); ok && !strings.Contains(before, " "); before, after, ok = strings.Cut(text, ": ") {
		text = after
	}
	return strings.ReplaceAll(text, "\n", "; ")
}

// servingForm asks for the figures in one go. A form has room for five: where the drink in a serving is not known, it is asked
// for instead of what water can hold.
func (h *Handler) servingForm(ctx context.Context, r request) (chat.Answer, error) {
	if r.options != nil {
		return withSituation((*Handler).serving)(h, ctx, r)
	}
	fields := []chat.Field{
		{Name: "bottles", Label: "Bottles before > after", Example: "1012.4 > 1018.5 g, 1010.2 > 1016.0 g"},
		{Name: "platform", Label: "Cylinder before > after", Example: "21.34 > 21.26 kg"},
		{Name: "servings", Label: "Servings between the two", Example: "12"}}
	if s, ok := h.opt.House.Situation("", r.at); ok && s.Litres <= 0 {
		fields = append(fields, chat.Field{Name: "litres", Label: "Litres of drink in one serving", Example: "0.84", Required: true})
	} else {
		fields = append(fields, chat.Field{Name: "water", Label: "Temperature of the water", Example: "5 C"},
			chat.Field{Name: "pressure", Label: "What the regulator's gauge shows", Example: "4 barg"})
	}
	return chat.Answer{Form: &chat.Form{ID: r.button, Title: "A serving, by weighing", Fields: fields}}, nil
}

// readExperiment reads the pairs of weights.
func (h *Handler) readExperiment(typed map[string]string, s notice.Situation) (serving.Experiment, error) {
	e := serving.Experiment{Litres: s.Litres}
	small, large := unit.Grams(1), unit.Grams(unit.GramsPerKilogram)
	if h.opt.Voice.System == unit.US {
		small, large = unit.GramsPerOunce, unit.GramsPerPound
	}
	if text := strings.TrimSpace(typed["litres"]); text != "" {
		l, err := decimal(text)
		if err != nil || !(l > 0.05 && l <= 5) {
			return e, &Problem{fmt.Sprintf("“%s” is not the drink in a serving.", text), "Write the litres in one serving, for example 0.84."}
		}
		e.Litres = unit.Litres(l)
	}
	if e.Litres <= 0 {
		return e, &Problem{"How much drink is one serving?", "Add litres:0.84, or put serving into the config."}
	}
	for _, text := range splitList(typed["bottles"]) {
		before, after, step, err := pair(text, small)
		if err != nil {
			return e, err
		}
		e.Bottles = append(e.Bottles, serving.Bottle{Before: before, After: after})
		e.ScaleSD = max(e.ScaleSD, step/unit.Grams(math.Sqrt(12)))
	}
	text := strings.TrimSpace(typed["platform"])
	if text == "" {
		return e, nil
	}
	var step unit.Grams
	var err error
	if e.CylinderBefore, e.CylinderAfter, step, err = pair(text, large); err != nil {
		return e, err
	}
	e.CylinderSD = step / unit.Grams(math.Sqrt(12))
	if strings.TrimSpace(typed["servings"]) == "" {
		return e, &Problem{"How many servings lie between the two weights of the cylinder?", "Add servings:12."}
	}
	n, err := strconv.Atoi(strings.TrimSpace(typed["servings"]))
	if err != nil || n < 1 || n > 1000 {
		return e, &Problem{fmt.Sprintf("“%s” is not how many servings lie between the two weights of the cylinder.", typed["servings"]), "Add servings:12, a whole number from 1 on."}
	}
	e.Servings = n
	return e, nil
}

// judge holds the serving against what water can hold, if temperature and pressure were told.
func (h *Handler) judge(x *notice.Experiment, typed map[string]string) error {
	water, gauge, v := strings.TrimSpace(typed["water"]), strings.TrimSpace(typed["pressure"]), h.opt.Voice
	c, ok := x.InDrink()
	if water == "" && gauge == "" || !ok {
		return nil
	}
	t, errT := h.temperature(water)
	p, err := pressure(gauge)
	if err = errors.Join(errT, err); err != nil {
		return err
	}
	if x.Verdict, err = serving.Judge(c, p, t); err != nil {
		return &Problem{fmt.Sprintf("“%s” and “%s” cannot be judged: %s.", water, gauge, plain(err)), "Water from 0 to 40 °C, and what the gauge of the regulator shows."}
	}
	if sd := float64(x.Uptake.SD) / float64(x.Litres); x.HasUptake && float64(x.Verdict.Vented) > 2*sd+0.1*float64(x.Verdict.CanHold) {
		return &Problem{fmt.Sprintf("%s a litre cannot be in the drink: %s", v.Fine(unit.Grams(c)), v.CanHold(x.Verdict.CanHold, t, p)), "Check the two weights of each bottle, the temperature, and whether the pressure is what the gauge shows (barg, psig) or absolute (bar, psi)."}
	}
	x.Judged, x.Temp, x.Pressure, x.Gauge = true, t, p, strings.HasSuffix(strings.ToLower(gauge), "g")
	return nil
}

// adoptServing plans with a serving from now on.
func (h *Handler) adoptServing(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	co2, litres := arg.grams(arg.next()), unit.Litres(arg.grams(arg.next()))
	if r.id = arg.rest; arg.bad || !(co2 > 0 && litres > 0 && litres <= 50 && co2 <= serving.MostTaken.In(litres)) {
		return chat.Answer{}, errStale
	}
	return h.noted(ctx, r, record.Event{Kind: record.Serving, CO2: co2, Litres: litres},
		fmt.Sprintf("Noted: a serving of %g L counts as %s from now on.", litres, h.opt.Voice.Fine(co2)), "Litres left, costs and who used what go by it.")
}
