package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"syscall"
	"time"

	"golang.org/x/term"

	"tarebell/bot/internal/app"
	"tarebell/config"
)

// runCommand serves a household.
type runCommand struct {
	Config  string `required:"" placeholder:"FILE" help:"${config_help}"`
	Data    string `default:"tarebell-data" placeholder:"DIR" help:"Folder of the ledger (${default})."`
	Chat    string `enum:"auto,terminal,discord" default:"auto" help:"Where the household talks: auto (what the config says), terminal or discord."`
	Health  string `placeholder:"ADDR" help:"Answer /healthz and /metrics there, such as 127.0.0.1:8089."`
	Verbose bool   `short:"v" help:"Log also when trouble is over."`
}

// goodbye bounds how long the last messages may take after a signal.
const goodbye = 10 * time.Second

func (c *runCommand) Run(w *world) error {
	level := slog.LevelWarn
	if c.Verbose {
		level = slog.LevelInfo
	}
	log := slog.New(slog.NewTextHandler(w.err, &slog.HandlerOptions{Level: level}))
	site := app.NewSite()
	if c.Health != "" {
		if err := site.Serve(w.ctx, c.Health); err != nil {
			return err
		}
	}
	defer site.Listen("")
	hup := make(chan os.Signal, 1)
	if !signal.Ignored(syscall.SIGHUP) { // nohup means it
		signal.Notify(hup, syscall.SIGHUP)
		defer signal.Stop(hup)
	}
	s := &session{runCommand: c, world: w, log: log, site: site, keys: newKeyboard(w.in), hup: hup}
	now, err := s.prepare()
	for err == nil && now != nil {
		now, err = s.serve(now)
	}
	return err
}

// session is a run of the program, during which the config may be read anew.
type session struct {
	*runCommand
	*world
	log  *slog.Logger
	site *app.Site
	keys *keyboard
	hup  <-chan os.Signal
	last *app.Options // that the household was started with
}

// prepare reads the config and everything that it names, and takes its address to listen at. Nothing of what runs is touched.
func (s *session) prepare() (*app.Options, error) {
	cfg, err := loadConfig(s.Config)
	if err != nil {
		return nil, err
	}
	if _, err := app.Household(cfg); err != nil {
		return nil, err
	}
	o := &app.Options{Config: cfg, Data: s.Data, Log: s.log, Site: s.site}
	var scales, air, listen error
	o.Sources, o.Every, scales = app.Scales(cfg, s.getenv, nil, nil)
	o.Air, air = app.Monitors(cfg, s.getenv, nil)
	if l := cfg.Listen; l != nil {
		if o.Push, listen = l.Token.Read(s.getenv); listen != nil {
			listen = fmt.Errorf("listen: %w", listen)
		}
	}
	if err := errors.Join(scales, air, listen, s.chat(cfg, o)); err != nil {
		return nil, err
	}
	return o, s.listen(o)
}

// listen takes weighings where o wants them.
func (s *session) listen(o *app.Options) error {
	if o.Config.Listen == nil {
		return s.site.Listen("")
	}
	return s.site.Listen(o.Config.Listen.Address)
}

// start starts a household or, if it cannot start as the config now says, as it was before.
func (s *session) start(ctx context.Context, o *app.Options) (*app.App, error) {
	now := *o
	if now.Open == nil {
		now.Open = app.Terminal(s.keys.until(ctx, s.unattended(o)), s.out, filepath.Clean(s.Data), o.Config.Household.Location, o.Log)
	}
	a, err := app.Start(ctx, now)
	debug.FreeOSMemory() // what the rebuilding took is not needed again
	if before := s.last; err != nil && before != nil && ctx.Err() == nil {
		s.last = nil
		report(s.world, err, "it starts as before")
		return s.start(ctx, before)
	}
	if err == nil {
		s.last, err = o, s.listen(o)
	}
	if err != nil && a != nil {
		err = errors.Join(err, a.Close(ctx))
	}
	return a, err
}

// unattended says what becomes of a household in a terminal whose input was closed from the start, as under a service manager.
func (s *session) unattended(o *app.Options) func() error {
	return func() error {
		if len(o.Sources) == 0 {
			return &hint{errors.New("standard input is closed, so that nobody can type a weight, and no cylinder has a scale"),
				"give it a channel in Discord or a scale, README.md says how; or start it in a terminal"}
		}
		fmt.Fprintln(s.err, "bot: standard input is closed: nobody can type here; scales are read and notices are printed")
		return nil
	}
}

// serve runs a household until the program is to end, or the config was read anew: then next is what comes after it.
func (s *session) serve(o *app.Options) (next *app.Options, err error) {
	ctx, cancel := context.WithCancel(s.ctx)
	defer cancel()
	a, err := s.start(ctx, o)
	if errors.Is(err, context.Canceled) && s.ctx.Err() != nil {
		fmt.Fprintln(s.err, "bot: stopped while it was starting; nothing is lost, the next start begins anew")
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	reread := make(chan *app.Options, 1)
	go func() {
		if next := s.reread(ctx); next != nil {
			reread <- next
			cancel()
		}
	}()
	err = a.Run(ctx)
	last, stop := context.WithTimeout(context.WithoutCancel(ctx), goodbye)
	defer stop()
	err = errors.Join(err, a.Close(last))
	select {
	case next = <-reread:
	default:
	}
	return next, err
}

// reread waits for the signal to read the config anew and returns what it says; nil when ctx ended first. A config with mistakes
// changes nothing: they are told, and the next signal is awaited.
func (s *session) reread(ctx context.Context) *app.Options {
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-s.hup:
		}
		next, err := s.prepare()
		if err == nil {
			fmt.Fprintf(s.err, "bot: %s was read again and counts from now on\n", s.Config)
			return next
		}
		report(s.world, err, "nothing was changed")
		fmt.Fprintf(s.err, "bot: %s is not taken over: all goes on as before\n", s.Config)
	}
}

// chat chooses the channel.
func (s *session) chat(cfg *config.Config, o *app.Options) error {
	if s.Chat == "terminal" || s.Chat == "auto" && cfg.Chat.Discord == nil {
		cfg.Chat.Discord = nil
		if f, ok := s.in.(*os.File); ok && s.last == nil && term.IsTerminal(int(f.Fd())) {
			fmt.Fprintln(s.err, "bot: listening; type what the scale says, ask /gas, or /help for the rest")
		}
		return nil // see start
	}
	if cfg.Chat.Discord == nil {
		return &hint{fmt.Errorf("--chat discord: %s has no chat.discord", s.Config), "README.md, “Your own house in five minutes”, says what to put there; or use --chat terminal"}
	}
	token, err := cfg.Chat.Discord.Token.Read(s.getenv)
	if err != nil {
		return &hint{err, "the token comes from the developer portal, page “Bot”; --chat terminal needs none"}
	}
	o.Open = app.Discord(cfg.Chat.Discord, token, o.Log, nil)
	return nil
}
