package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
	"tarebell/config"
)

// The exit codes.
const (
	exitFine   = 0
	exitFailed = 1
	exitMisuse = 2
)

// world is what a command may touch.
type world struct {
	ctx    context.Context
	in     io.Reader
	out    io.Writer
	err    io.Writer
	getenv func(string) string
}

// report says what went wrong, one line a mistake, what became of the program, and what to do about it where that is known.
func report(w *world, err error, therefore string) int {
	var mistakes config.Errors
	if errors.As(err, &mistakes) {
		for _, m := range mistakes.List {
			fmt.Fprintln(w.err, m)
		}
		many := "mistakes"
		if len(mistakes.List) == 1 {
			many = "mistake"
		}
		fmt.Fprintf(w.err, "bot: error: the config has %d %s; %s\n", len(mistakes.List), many, therefore)
		return exitFailed
	}
	for _, line := range strings.Split(err.Error(), "\n") {
		fmt.Fprintln(w.err, "bot: error:", line)
	}
	var h *hint
	if errors.As(err, &h) {
		fmt.Fprintln(w.err, "bot: hint:", h.do)
	}
	return exitFailed
}

// hint is an error with advice.
type hint struct {
	err error
	do  string
}

func (h *hint) Error() string { return h.err.Error() }
func (h *hint) Unwrap() error { return h.err }

// loadConfig reads a config, with advice where the file itself is the trouble.
func loadConfig(path string) (*config.Config, error) {
	cfg, err := config.Load(path, app.Judge)
	if os.IsNotExist(err) || (err != nil && strings.Contains(err.Error(), "no such file")) {
		return nil, &hint{err, "README.md has a config to start from"}
	}
	return cfg, err
}

// loadHousehold reads a config and makes what the engine runs on of it.
func loadHousehold(path string) (*config.Config, household.Options, error) {
	cfg, err := loadConfig(path)
	if err != nil {
		return nil, household.Options{}, err
	}
	o, err := app.Household(cfg)
	return cfg, o, err
}

// alone adds what to do when the ledger can only be had alone, and the bot has it.
func alone(err error) error {
	if errors.Is(err, store.ErrInUse) {
		return &hint{err, "stop the bot for the moment it takes"}
	}
	return err
}
