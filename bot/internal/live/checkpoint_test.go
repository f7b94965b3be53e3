package live

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/checkpoint"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
)

// from is what the households of these tests were made from.
type from struct{ text string }

// bits are the state of a house.
func (r *rig) bits() []byte {
	r.t.Helper()
	b, err := checkpoint.Encode(r.House.now, time.UTC)
	if err != nil {
		r.t.Fatal(err)
	}
	return b
}

// rebuilt is the same ledger, gone through from the beginning.
func (r *rig) rebuilt() *rig {
	again := &rig{t: r.t, store: r.store, now: r.now, status: r.status}
	again.reopen()
	return again
}

// TestCheckpoints: a house that restarts from its checkpoints, in which entries are undone and entered late, is to the bit what going through
// the whole ledger makes of it.
func TestCheckpoints(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	if testing.Verbose() {
		t.Log("seed", seed)
	}
	rnd := rand.New(rand.NewPCG(seed, 0))
	r := newRig(t)
	r.from = &from{"a"}
	r.reopen()
	at, gas := start, 5_900.0
	var typed []int64
	restarts, saved := 0, 0
	for i := range 160 {
		at = at.Add(time.Duration(20+rnd.IntN(60)) * time.Minute)
		if gas -= rnd.Float64() * 4; gas < 700 {
			gas = 5_900
		}
		r.tick(at)
		r.weigh(at, 10_000+gas+float64(rnd.IntN(9)))
		switch rnd.IntN(16) {
		case 0: // somebody types a weight, of now or of the past
			then := at.Add(-time.Duration(rnd.ExpFloat64()*float64(rnd.IntN(100))) * time.Hour)
			if then.Before(start) || rnd.IntN(2) == 0 {
				then = at
			}
			e, err := r.Accept(ctx, typedIn(fmt.Sprint("said/", i), then, at, 10_000+gas))
			if err != nil {
				t.Fatal(err)
			}
			typed = append(typed, e.Seq)
		case 1:
			if n := len(typed); n > 0 {
				k := rnd.IntN(n)
				if _, err := r.Void(ctx, typed[k]); err != nil {
					t.Fatal(err)
				}
				typed = append(typed[:k], typed[k+1:]...)
			}
		case 2: // the machine sleeps
			at = at.Add(time.Duration(1+rnd.IntN(72)) * time.Hour)
			r.now = at
			if err := r.Advance(ctx, at); err != nil {
				t.Fatal(err)
			}
		case 3: // its clock leaps, nothing can be written, the program is killed or not, and the clock is set right
			r.now = at.Add(time.Duration(1+rnd.IntN(72)) * time.Hour)
			r.store.fail = store.ErrFull
			_ = r.Advance(ctx, r.now)
			r.now, r.store.fail = at, nil
			if rnd.IntN(2) == 0 {
				r.reopen()
			} else if err := r.Advance(ctx, at); err != nil {
				t.Fatal(err)
			}
		case 4:
			r.store.from = nil
			r.reopen()
			restarts++
			if p := r.store.from; len(p) == 1 && !p[0].At.IsZero() {
				saved++
			}
		default:
			continue
		}
		if whole := r.rebuilt(); !bytes.Equal(r.bits(), whole.bits()) {
			t.Fatalf("seed %d, after entry %d of %s: the state is not what the ledger leads to\n%s\n%s", seed, i, at, r.state(at), whole.state(at))
		}
	}
	if restarts < 1 || saved < restarts*2/3 {
		t.Errorf("seed %d: %d of %d restarts began at a checkpoint", seed, saved, restarts)
	}
}

// TestManyPauses: what was once not told, as the machine slept, is not told of that time after many more pauses either.
func TestManyPauses(t *testing.T) {
	r := newRig(t)
	r.from, r.status = &from{"a"}, 7*24*time.Hour
	r.reopen()
	r.now = r.days(start, 3, 5_900)
	for range 70 {
		r.now = r.now.Add(13 * time.Hour)
		if err := r.Advance(ctx, r.now); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(r.bits(), r.rebuilt().bits()) {
		t.Error("the state is not what the ledger leads to")
	}
}

// tick lets time pass as the program's clock does.
func (r *rig) tick(until time.Time) {
	r.t.Helper()
	for next := r.Next(); !next.IsZero() && next.Before(until); next = r.Next() {
		r.now = next
		if err := r.Advance(ctx, next); err != nil {
			r.t.Fatal(err)
		}
	}
}

// TestCheckpointInDoubt: a state that another program or config made, that does not read as it was written, or that holds what is not in the
// ledger any more is not used.
func TestCheckpointInDoubt(t *testing.T) {
	for name, doubt := range map[string]func(r *rig){
		"another config": func(r *rig) { r.from = &from{"b"} },
		"a wrong bit": func(r *rig) {
			r.sql(`UPDATE checkpoint SET state = CAST(substr(state, 1, 999) || x'5a' || substr(state, 1001) AS BLOB)`)
		},
		"another state in its place": func(r *rig) { r.sql(`UPDATE checkpoint SET state = x'00', sum = 1383945041`) },
		"the moment reached is lost": func(r *rig) { r.sql(`UPDATE fact SET value = '2027-03-01T10:00:00Z' WHERE name = 'reached'`) },
		"an old entry by a tool": func(r *rig) {
			r.sql(`INSERT INTO entry SELECT 9999, 'tool', kind, cylinder, at+1, received, by_id, by_name, origin, gross_g, temp_c, name, value, text, 0, NULL FROM entry WHERE seq = 1`)
		},
		"the first struck out by a tool": func(r *rig) { r.sql(`UPDATE entry SET voided = 1 WHERE seq = 1`) },
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.from = &from{"a"}
			r.reopen()
			r.days(start, 2, 5_900)
			r.store.from = nil
			r.reopen()
			if p := r.store.from; len(p) != 1 || p[0].At.IsZero() {
				t.Fatalf("without doubt: read from %v", p)
			}
			doubt(r)
			r.store.from = nil
			r.reopen()
			if p := r.store.from; len(p) != 1 || p[0].Seq != 0 {
				t.Errorf("read from %v, want the beginning", p)
			}
			if !bytes.Equal(r.bits(), r.rebuilt().bits()) {
				t.Error("the state is not what the ledger leads to")
			}
		})
	}
}

// sql does to the ledger what a tool might.
func (r *rig) sql(query string) {
	r.t.Helper()
	if err := r.store.Store.(*sqlite.Store).Close(); err != nil {
		r.t.Fatal(err)
	}
	run(r.t, r.path, query)
	s, err := sqlite.Open(r.path)
	if err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { s.Close() })
	r.store.Store = s
}

// TestPastFromCheckpoint: what is undone of the last month begins at a checkpoint not long before, also if all were made anew at the start.
func TestPastFromCheckpoint(t *testing.T) {
	r := newRig(t)
	last := start
	var list []store.Entry
	for h := range 60 * 24 {
		last = start.Add(time.Duration(h) * time.Hour)
		list = append(list, scaled(last, float64(15_900-2*h+h%7)))
	}
	w, err := r.store.Write(ctx, store.Batch{Entries: list, Facts: map[string]string{FactReached: last.Format(time.RFC3339)}})
	if err != nil {
		t.Fatal(err)
	}
	list = w.Entries
	r.from, r.now = &from{"a"}, last
	r.reopen()
	for days, most := range map[int]time.Duration{0: 25, 1: 48, 5: 48, 20: 8 * 24, 30: 8 * 24, 45: 8 * 24} {
		at := last.Add(-time.Duration(days) * 24 * time.Hour)
		for _, e := range list {
			if e.At.Equal(at) {
				r.store.from = nil
				if _, err := r.Void(ctx, e.Seq); err != nil {
					t.Fatal(err)
				}
			}
		}
		if p := r.store.from; len(p) != 1 || at.Sub(p[0].At) > most*time.Hour || !p[0].At.Before(at) {
			t.Errorf("undone after %d days: read from %v, want at most %d h before %s", days, p, most, at)
		}
	}
	if strings.Contains(r.log.String(), "checkpoint") {
		t.Error(r.log.String())
	}
}

func run(t testing.TB, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err == nil {
		_, err = db.Exec(query)
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
}

// BenchmarkMillion: a household with a million weighings, one every four minutes for seven years and a half.
func BenchmarkMillion(b *testing.B) {
	r := newRig(b)
	r.from, r.status = &from{"a"}, 7*24*time.Hour
	const n = 1_000_000
	var part []store.Entry
	gas, last := 5_900.0, start
	for i := range n {
		last = start.Add(time.Duration(i) * 4 * time.Minute)
		if last.Hour() >= 8 && last.Hour() < 22 {
			gas -= 50.0 / 210
		}
		if gas < 600 {
			gas = 5_900
		}
		part = append(part, scaled(last, 10_000+gas+float64(i*7919%13)-6))
		if len(part) == 10_000 {
			if _, err := r.store.Store.Write(ctx, store.Batch{Entries: part, Facts: map[string]string{FactReached: last.Format(time.RFC3339)}}); err != nil {
				b.Fatal(err)
			}
			part = part[:0]
		}
	}
	r.now = last
	b.Run("first start by this program", func(b *testing.B) {
		for b.Loop() {
			r.sql(`DELETE FROM checkpoint`)
			r.reopen()
		}
	})
	b.Run("start", func(b *testing.B) {
		for b.Loop() {
			r.reopen()
		}
	})
	for _, days := range []int{0, 1, 7, 30} {
		at := last.Add(-time.Duration(days)*24*time.Hour + time.Second)
		b.Run(fmt.Sprintf("enter and undo of %d days ago", days), func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				e, err := r.Accept(ctx, typedIn(fmt.Sprint(b.Name(), b.N, i), at, last, 15_000))
				if err != nil {
					b.Fatal(err)
				}
				if _, err := r.Void(ctx, e.Seq); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestClockSet: while the machine's clock is wrong by years, be it early or late, and when it is right again, the household stands as it would
// with what was entered up to then, at small cost; what was entered meanwhile stays in the ledger.
func TestClockSet(t *testing.T) {
	for name, wrong := range map[string]time.Time{"1990": time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC), "2099": time.Date(2099, 5, 1, 0, 0, 0, 0, time.UTC)} {
		t.Run(name, func(t *testing.T) {
			r, never := newRig(t), newRig(t)
			r.from = &from{"a"}
			r.reopen()
			last := r.days(start, 2, 5_900)
			never.days(start, 2, 5_900)
			r.now = wrong
			odd := r.weigh(wrong, 15_700)
			r.reopen()
			at := last.Add(time.Hour)
			r.now, never.now = at, at
			if wrong.Before(start) { // whoever sees the odd entry undoes it
				if _, err := r.Void(ctx, odd.Seq); err != nil {
					t.Fatal(err)
				}
			}
			for _, g := range []*rig{r, never} {
				g.tick(at)
				g.weigh(at, 15_730)
			}
			if a, b := r.state(at), never.state(at); a != b {
				t.Errorf("after the clock was set\n%s\nwithout\n%s", a, b)
			}
			if reads := len(r.store.from); reads > 6 {
				t.Errorf("the ledger was read %d times", reads)
			}
			r.reopen()
			if a, b := r.state(at), never.state(at); a != b {
				t.Errorf("after a restart\n%s\nwithout\n%s", a, b)
			}
			if e, err := r.Entry(ctx, odd.Seq); err != nil || !e.At.Equal(wrong) {
				t.Errorf("the odd entry: %+v, %v", e, err)
			}
		})
	}
}
