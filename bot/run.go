package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
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
	Health  string `placeholder:"ADDR" help:"Answer /healthz there, such as 127.0.0.1:8089."`
	Verbose bool   `short:"v" help:"Log also when trouble is over."`
}

// goodbye bounds how long the last messages may take after a signal.
const goodbye = 10 * time.Second

func (c *runCommand) Run(w *world) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	level := slog.LevelWarn
	if c.Verbose {
		level = slog.LevelInfo
	}
	log := slog.New(slog.NewTextHandler(w.err, &slog.HandlerOptions{Level: level}))
	o := app.Options{Config: cfg, Data: c.Data, Log: log}
	if o.Sources, o.Every, err = app.Scales(cfg, w.getenv, nil, nil); err != nil {
		return err
	}
	if o.Air, err = app.Monitors(cfg, w.getenv, nil); err != nil {
		return err
	}
	if err := c.open(w, cfg, &o); err != nil {
		return err
	}
	a, err := app.Start(w.ctx, o)
	if err != nil {
		return err
	}
	if c.Health != "" {
		if err := a.ServeHealth(w.ctx, c.Health); err != nil {
			return errors.Join(err, a.Close(w.ctx))
		}
	}
	err = a.Run(w.ctx)
	last, cancel := context.WithTimeout(context.WithoutCancel(w.ctx), goodbye)
	defer cancel()
	return errors.Join(err, a.Close(last))
}

// open chooses the channel.
func (c *runCommand) open(w *world, cfg *config.Config, o *app.Options) error {
	if c.Chat == "terminal" || c.Chat == "auto" && cfg.Chat.Discord == nil {
		cfg.Chat.Discord = nil
		if f, ok := w.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
			fmt.Fprintln(w.err, "bot: listening; type what the scale says, ask /gas, or /help for the rest")
		}
		o.Open = app.Terminal(w.in, w.out, filepath.Clean(c.Data), cfg.Household.Location, o.Log)
		return nil
	}
	if cfg.Chat.Discord == nil {
		return &hint{fmt.Errorf("--chat discord: %s has no chat.discord", c.Config), "README.md, “Your own house in five minutes”, says what to put there; or use --chat terminal"}
	}
	token, err := cfg.Chat.Discord.Token.Read(w.getenv)
	if err != nil {
		return &hint{err, "the token comes from the developer portal, page “Bot”; --chat terminal needs none"}
	}
	o.Open = app.Discord(cfg.Chat.Discord, token, o.Log, nil)
	return nil
}
