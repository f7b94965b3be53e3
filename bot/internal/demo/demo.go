// Package demo lets an invented household live through some months before your eyes.
//
// Only the household and the clock are make-believe: the simulated scale answers over HTTP on loopback and is
// polled by the real source; ledger, engine, outbox and terminal channel are the real ones. What is said is
// computed from what was weighed. The people react to what they are told, with a delay, as people do.
package demo

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"sync"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/terminal"
	"tarebell/bot/internal/store"
	"tarebell/config"
	"tarebell/forecast/unit"
	"tarebell/sources"
	"tarebell/sources/simulated"
)

//go:embed house.yaml
var houseYAML []byte

// Options is how the demo runs.
type Options struct {
	Out      io.Writer
	Progress io.Writer // a line now and then while nobody reads Out; nil: none
	Seed     uint64
	Weeks    int
	Pace     time.Duration // pause after each message, for reading along
}

// clock is the virtual present.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.t
}

func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t.After(c.t) {
		c.t = t
	}
}

// demo is one run.
type demo struct {
	opt    Options
	cfg    *config.Config
	clock  clock
	house  *simulated.House
	app    *app.App
	room   *room
	scale  sources.Source
	every  time.Duration
	end    time.Time
	polls  int
	failed int
	began  time.Time
	left   unit.Grams // in the cylinder when the refill came
}

// Run lives through the weeks and ends with an account of what was true and what was said.
func Run(ctx context.Context, o Options) error {
	d := &demo{opt: o, began: time.Now()}
	stop, err := d.open(ctx)
	if err != nil {
		return err
	}
	defer stop()
	d.opening()
	if err := d.live(ctx); err != nil {
		return err
	}
	d.account()
	return nil
}

// open builds the household, serves its scale and starts the program on it.
func (d *demo) open(ctx context.Context) (stop func(), err error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("serving the simulated scale on loopback: %w", err)
	}
	text := bytes.Replace(houseYAML, []byte("127.0.0.1:1"), []byte(listener.Addr().String()), 1)
	if d.cfg, err = config.Parse("house.yaml", text); err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "tarebell-demo-")
	if err != nil {
		return nil, err
	}
	start := time.Date(2027, 3, 1, 9, 0, 0, 0, d.cfg.Household.Location)
	d.clock.t, d.end = start, start.AddDate(0, 0, 7*d.opt.Weeks)
	d.house = simulated.New(d.household(start))
	server := &http.Server{Handler: simulated.Endpoint{House: d.house, Now: d.clock.Now}, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, 0)}
	go server.Serve(listener)
	if err := d.start(ctx, dir); err != nil {
		server.Close()
		return nil, err
	}
	return func() {
		d.app.Close(context.WithoutCancel(ctx))
		server.Close()
	}, nil
}

// start wires the program as it would be for a real household.
func (d *demo) start(ctx context.Context, dir string) error {
	o := app.Options{Config: d.cfg, Data: dir, Now: d.clock.Now, Log: slog.New(slog.DiscardHandler)}
	var err error
	if o.Sources, o.Every, err = app.Scales(d.cfg, os.Getenv, d.clock.Now, nil); err != nil {
		return err
	}
	d.scale, d.every = o.Sources["main"], o.Every["main"]
	o.Open = func(specs []chat.Spec, _ store.Store) (chat.Channel, error) {
		t, err := terminal.New(terminal.Options{Out: d.opt.Out, Commands: specs, Dir: dir, Zone: d.cfg.Household.Location, Now: d.clock.Now})
		d.room = newRoom(t, d)
		d.room.dir = dir
		return d.room, err
	}
	if d.app, err = app.Start(ctx, o); err != nil {
		return err
	}
	d.room.Handle(d.app.Handler)
	return nil
}

// live lets time pass from one thing to the next.
func (d *demo) live(ctx context.Context) error {
	next := d.clock.Now()
	shown := time.Now()
	for now := next; now.Before(d.end); {
		if err := ctx.Err(); err != nil {
			return err
		}
		d.clock.set(now)
		d.room.act(ctx, now)
		if !now.Before(next) {
			d.poll(ctx)
			next = next.Add(d.every)
		}
		if err := d.app.Tick(ctx); err != nil {
			return err
		}
		if d.opt.Progress != nil && time.Since(shown) > 2*time.Second {
			shown = time.Now()
			fmt.Fprintf(d.opt.Progress, "demo: week %d of %d\n", 1+int(now.Sub(d.end.AddDate(0, 0, -7*d.opt.Weeks)).Hours()/168), d.opt.Weeks)
		}
		now = d.soonest(now, next)
	}
	return nil
}

// soonest is when the next thing happens: a poll, something somebody does, a moment of the engine's.
func (d *demo) soonest(now, poll time.Time) time.Time {
	next := poll
	for _, t := range []time.Time{d.room.next(), d.app.House.Next()} {
		if !t.IsZero() && t.After(now) && t.Before(next) {
			next = t
		}
	}
	return next
}

// poll reads the scale as the running program does.
func (d *demo) poll(ctx context.Context) {
	d.polls++
	if err := d.app.Poll(ctx, "main", d.scale, func(gap time.Duration) bool {
		d.polls++
		d.clock.set(d.clock.Now().Add(gap))
		return true
	}); err != nil {
		d.failed++
	}
}
