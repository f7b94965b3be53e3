package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/command"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/outbox"
	"tarebell/bot/internal/store"
	"tarebell/config"
	"tarebell/sources"
	"tarebell/sources/scale"
)

// Options is what a running program needs from outside.
type Options struct {
	Config  *config.Config
	Data    string // folder of the ledger
	Open    func(specs []chat.Spec, facts store.Store) (chat.Channel, error)
	Sources map[string]sources.Source // by cylinder; absent: weights are typed
	Every   map[string]time.Duration
	Air     []Monitor
	Push    config.Secret    // the token that scales send which send by themselves; empty: none may
	Site    *Site            // where it can be asked how all is; nil: nowhere
	Now     func() time.Time // nil: time.Now
	Log     *slog.Logger     // nil: no log
}

// App is a running household: ledger, engine, outbox, chat and scales.
type App struct {
	opt     Options
	store   *watched
	House   *live.House
	Outbox  *outbox.Outbox
	Handler *command.Handler
	Channel chat.Channel
	devices devices
	trouble atomic.Value  // string: why time cannot pass; "" when it does
	nudge   chan struct{} // something happened: the time of the next moment may have changed
}

// Start opens the ledger and connects the parts. Nothing runs yet.
func Start(ctx context.Context, o Options) (*App, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Site == nil {
		o.Site = NewSite()
	}
	settings, err := Household(o.Config)
	if err != nil {
		return nil, err
	}
	ledger, err := Ledger(o.Data)
	if err != nil {
		return nil, err
	}
	a, err := connect(ctx, o, settings, ledger)
	if err != nil {
		return nil, errors.Join(err, ledger.Close())
	}
	return a, nil
}

// connect puts the parts together around the ledger.
func connect(ctx context.Context, o Options, settings household.Options, ledger store.Store) (a *App, err error) {
	a = &App{opt: o, nudge: make(chan struct{}, 1)}
	a.store = &watched{Store: ledger, site: o.Site, changed: a.wake}
	pictures := chart.Household(settings.Voice)
	a.House, err = live.Open(ctx, live.Options{Household: settings, Store: a.store, Compose: compose(pictures.Cylinder, o.Log), Wake: a.wake, Now: o.Now, Log: o.Log, From: o.Config})
	if err != nil {
		return nil, err
	}
	a.Handler = command.New(command.Options{House: a.House, Voice: settings.Voice, Cylinders: cylinders(o.Config), Scales: scalesOf(o.Config),
		Members: o.Config.Household.Members, Household: o.Config.Household.Name, Currency: o.Config.Refill.Currency(), Closed: closed(settings),
		FreeText: freeText(o.Config), Draw: pictures.Cylinder, DrawUse: pictures.Weeks, Log: o.Log})
	if a.Channel, err = o.Open(a.Handler.Specs(), a.store); err != nil {
		return nil, err
	}
	a.Outbox = outbox.New(outbox.Options{Store: a.store, Channel: a.Channel, Now: o.Now, Log: o.Log,
		Zone: settings.Voice.Zone, Quiet: quiet(o.Config), Failed: a.undeliverable})
	if c, ok := a.Channel.(interface {
		AnswerThrough(func(context.Context, chat.Message) error)
	}); ok {
		c.AnswerThrough(a.Outbox.Answer)
	}
	return a, nil
}

// freeText reports whether weights typed without a command reach the program: always in a terminal, by choice
// on a platform that asks for it.
func freeText(c *config.Config) bool { return c.Chat.Discord == nil || c.Chat.Discord.FreeText }

// wake tells the outbox and the clock that the ledger has changed.
func (a *App) wake() {
	if a.Outbox != nil {
		a.Outbox.Wake()
	}
	select {
	case a.nudge <- struct{}{}:
	default:
	}
}

// Run serves the household until ctx ends or the chat does.
func (a *App) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var wg sync.WaitGroup
	for name, src := range a.opt.Sources {
		if s, ok := src.(*scale.Scale); ok && !s.Asked() {
			continue
		}
		wg.Go(func() { a.poll(ctx, name, src) })
	}
	for _, m := range a.opt.Air {
		wg.Go(func() { a.watchAir(ctx, m) })
	}
	wg.Go(func() { a.clock(ctx) })
	a.opt.Site.show(a)
	defer a.opt.Site.show(nil)
	wg.Go(func() { a.Outbox.Run(ctx) })
	err := a.Channel.Run(ctx, a.Handler)
	cancel()
	wg.Wait()
	return err
}

// Tick lets time pass until now and delivers what is due, for a clock that does not run by itself.
func (a *App) Tick(ctx context.Context) error {
	if err := a.House.Advance(ctx, a.opt.Now()); err != nil {
		return err
	}
	return a.Outbox.Flush(ctx)
}

// Close delivers what is due, as far as the chat still takes it, and closes the ledger.
func (a *App) Close(ctx context.Context) error {
	err := a.Outbox.Flush(ctx)
	if c, ok := a.Channel.(io.Closer); ok {
		err = errors.Join(err, c.Close())
	}
	return errors.Join(err, a.store.Close())
}

// clock lets time pass for the engine, whenever it has something to do.
func (a *App) clock(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		case <-a.nudge:
		}
		wait, trouble := a.turn(ctx)
		if ctx.Err() != nil {
			return
		}
		if before := a.trouble.Swap(trouble); trouble != "" && before != trouble { // said once per change
			a.opt.Log.Error("time cannot pass for the household", "err", trouble, "again in", wait)
		}
		timer.Reset(wait)
	}
}

const (
	// longestWait bounds a wait, so that a clock that was set is noticed.
	longestWait = time.Hour
	// troubledWait is how long a ledger that cannot be written rests: every try reads it from one end to the other.
	troubledWait = time.Minute
)

// turn lets time pass until now and says how long to wait for the next turn; trouble is why it could not, "" if it could.
func (a *App) turn(ctx context.Context) (wait time.Duration, trouble string) {
	now := a.opt.Now()
	if err := a.store.probe(ctx); err != nil {
		return troubledWait, err.Error()
	}
	if err := a.House.Advance(ctx, now); err != nil {
		return troubledWait, err.Error()
	}
	return min(longestWait, max(time.Second, a.House.Next().Sub(now))), ""
}

// ownerPatience bounds a message to the owner.
const ownerPatience = 30 * time.Second

// undeliverable tells whoever set the bot up that a notice cannot be delivered, once per notice, where the chat has
// a way to reach them. The log and /healthz have it in any case.
func (a *App) undeliverable(ctx context.Context, o store.Outgoing, cause error) {
	owner, ok := a.Channel.(chat.Owner)
	if !ok || o.Refused > 1 {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, ownerPatience)
	defer cancel()
	m := chat.Message{Severity: chat.Warning, Headline: "I cannot post in the household's channel.",
		Body: []string{fmt.Sprintf("A notice (%s) was refused: %v.", o.Kind, cause), "It is tried again when that has been mended."}}
	if err := owner.TellOwner(ctx, m); err != nil {
		a.opt.Log.Warn("the owner could not be told", "err", err)
	}
}
