package trial

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"tarebell/bot/internal/checkpoint"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// resumed is two engines that are told the same: one lives on, the other is kept and restored at random moments.
type resumed struct {
	t       *testing.T
	opt     household.Options
	whole   *household.Engine
	again   *household.Engine
	r       *rand.Rand
	every   int // inputs between two restarts, about
	times   int
	bytes   int
	notices int
}

// both compares what the two say. Some inputs are followed by a restart.
func (e *resumed) both(say func(*household.Engine) []notice.Notice) []notice.Notice {
	said := say(e.whole)
	if also := say(e.again); !reflect.DeepEqual(text(said), text(also)) {
		e.t.Fatalf("after %d restarts %v is told, want %v", e.times, text(also), text(said))
	}
	e.notices += len(said)
	if e.r.IntN(e.every) == 0 {
		e.restart()
	}
	return said
}

// text is what households see and the program stores of notices.
func text(ns []notice.Notice) (out []string) {
	for _, n := range ns {
		out = append(out, fmt.Sprint(n.Key, n.Follows, n.Ends, n.At, n.Severity, n.Text(), n.Actions))
	}
	return out
}

func (e *resumed) restart() {
	e.t.Helper()
	kept, err := checkpoint.Encode(e.again, e.opt.Voice.Zone)
	if err != nil {
		e.t.Fatal(err)
	}
	fresh := household.New(e.opt)
	if err := checkpoint.Decode(kept, fresh, e.opt.Voice.Zone); err != nil {
		e.t.Fatal(err)
	}
	if where := differs(reflect.ValueOf(e.whole), reflect.ValueOf(fresh), map[[2]uintptr]bool{}); where != "" {
		e.t.Fatalf("after %d restarts and at %s the state differs in %s", e.times, e.whole.Now(), where)
	}
	if never, err := checkpoint.Encode(e.whole, e.opt.Voice.Zone); err != nil || !bytes.Equal(kept, never) {
		e.t.Fatalf("the same state in other bytes, %v", err)
	}
	e.again, e.bytes = fresh, len(kept)
	e.times++
}

func (e *resumed) Apply(ev record.Event) []notice.Notice {
	return e.both(func(en *household.Engine) []notice.Notice { return en.Apply(ev) })
}

func (e *resumed) Advance(now time.Time) []notice.Notice {
	return e.both(func(en *household.Engine) []notice.Notice { return en.Advance(now) })
}

func (e *resumed) Pace(cylinder string) forecast.Pace {
	if a, b := e.whole.Pace(cylinder), e.again.Pace(cylinder); a != b {
		e.t.Fatalf("after %d restarts the pace is %v, want %v", e.times, b, a)
	}
	return e.whole.Pace(cylinder)
}

// differs names the first place where two graphs are not the same to the bit, "" for none. It goes by what reflect shows, not by what
// package checkpoint makes of it.
func differs(a, b reflect.Value, seen map[[2]uintptr]bool) string {
	switch a.Kind() {
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			return unless(a.IsNil() == b.IsNil(), "nil")
		}
		if a.Type() == reflect.TypeFor[*time.Location]() {
			return unless(a.Pointer() == b.Pointer(), "zone")
		}
		pair := [2]uintptr{a.Pointer(), b.Pointer()}
		if seen[pair] {
			return ""
		}
		seen[pair] = true
		return differs(a.Elem(), b.Elem(), seen)
	case reflect.Struct:
		for i := range a.NumField() {
			if f := a.Type().Field(i); f.Tag.Get("checkpoint") != "-" {
				if where := differs(a.Field(i), b.Field(i), seen); where != "" {
					return f.Name + "." + where
				}
			}
		}
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() || a.Kind() == reflect.Slice && a.IsNil() != b.IsNil() {
			return "length"
		}
		for i := range a.Len() {
			if where := differs(a.Index(i), b.Index(i), seen); where != "" {
				return fmt.Sprintf("%d.%s", i, where)
			}
		}
	case reflect.Map:
		if a.Len() != b.Len() || a.IsNil() != b.IsNil() {
			return "length"
		}
		for i := a.MapRange(); i.Next(); {
			v := b.MapIndex(i.Key())
			if !v.IsValid() {
				return i.Key().String()
			}
			if where := differs(i.Value(), v, seen); where != "" {
				return i.Key().String() + "." + where
			}
		}
	case reflect.Func:
		return unless(a.Pointer() == b.Pointer(), "func")
	case reflect.Float64, reflect.Float32:
		return unless(math.Float64bits(a.Float()) == math.Float64bits(b.Float()), fmt.Sprint(a.Float(), " and ", b.Float()))
	default:
		return unless(a.Equal(b), fmt.Sprint(a, " and ", b))
	}
	return ""
}

func unless(same bool, what string) string {
	if same {
		return ""
	}
	return what
}

// TestCheckpoint: a household whose engine is kept and restored at random moments is told the same, and has the same state, as one whose engine
// lives on. Whatever field is not restored makes the two differ.
func TestCheckpoint(t *testing.T) {
	for i, family := range []Family{Rough, Careless, Trouble} {
		h := home(t, "weekend", Spec{Seed: uint64(20 + i), Family: family, Days: 150, Losses: true, Again: true})
		o, err := h.Options()
		if err != nil {
			t.Fatal(err)
		}
		e := &resumed{t: t, opt: o, whole: household.New(o), again: household.New(o), r: rand.New(rand.NewPCG(uint64(i), 5)), every: 3000}
		if h.typed {
			e.every = 1600
		}
		newDweller(h, Engine, 0, e, nil).live()
		if e.times < 10 || e.notices < 20 {
			t.Errorf("%s: %d restarts and %d notices show little", family, e.times, e.notices)
		}
		t.Logf("%s: %d restarts, %d notices, %d bytes each", family, e.times, e.notices, e.bytes)
	}
}
