package app

import (
	"context"
	"fmt"
	"io"
	"iter"
	"log/slog"
	"net/http"
	"path/filepath"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/terminal"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
	"tarebell/config"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
	"tarebell/sources/recorded"
	"tarebell/sources/scale"
)

// Scales opens the scales of a config, also those that send by themselves. getenv finds their tokens; transport is nil but in tests.
func Scales(c *config.Config, getenv func(string) string, now func() time.Time, transport http.RoundTripper) (map[string]sources.Source, map[string]time.Duration, error) {
	src, every := map[string]sources.Source{}, map[string]time.Duration{}
	for _, cyl := range c.Cylinders {
		if cyl.Scale == nil || cyl.Spare {
			continue
		}
		s, err := openScale(cyl, getenv, now, transport)
		if err != nil {
			return nil, nil, fmt.Errorf("scale of %q: %w", cyl.Name, err)
		}
		src[cyl.Name], every[cyl.Name] = s, cyl.Scale.Every
	}
	return src, every, nil
}

func openScale(cyl config.Cylinder, getenv func(string) string, now func() time.Time, transport http.RoundTripper) (*scale.Scale, error) {
	s := cyl.Scale
	token, err := s.Token.Read(getenv)
	if err != nil {
		return nil, err
	}
	o := scale.Options{
		Endpoint: scale.Endpoint{URL: s.URL.Reveal(), Token: token.Reveal(), Header: s.Header, Timeout: s.Timeout, Now: now, Transport: transport},
		Item:     cyl.Name, Weight: s.Weight, Record: s.Record, Unit: s.Unit, Temperature: s.Temperature, Time: s.Time, Every: s.Every,
	}
	if s.Raw != nil {
		o.Raw = &scale.Raw{Zero: s.Raw.Zero, PerUnit: s.Raw.PerUnit}
	}
	return scale.New(o)
}

// Monitor is a CO2 monitor beside a cylinder.
type Monitor struct {
	Cylinder string
	Source   *scale.Monitor
	Every    time.Duration
}

// Monitors opens the CO2 monitors of a config. getenv finds their tokens; transport is nil but in tests.
func Monitors(c *config.Config, getenv func(string) string, transport http.RoundTripper) ([]Monitor, error) {
	var out []Monitor
	for _, cyl := range c.Cylinders {
		m := cyl.CO2Monitor
		if m == nil {
			continue
		}
		token, err := m.Token.Read(getenv)
		if err != nil {
			return nil, fmt.Errorf("CO2 monitor of %q: %w", cyl.Name, err)
		}
		src, err := scale.NewMonitor(scale.MonitorOptions{Item: cyl.Name, Value: m.Value,
			Endpoint: scale.Endpoint{URL: m.URL.Reveal(), Token: token.Reveal(), Header: m.Header, Timeout: m.Timeout, Transport: transport}})
		if err != nil {
			return nil, fmt.Errorf("CO2 monitor of %q: %w", cyl.Name, err)
		}
		out = append(out, Monitor{cyl.Name, src, m.Every})
	}
	return out, nil
}

// Recorded opens recorded weighings, and events if a file is named, in order of time; at the same time the event comes first. Where they
// name no cylinder, the first is meant. The reading ends with ctx; done closes the files.
func Recorded(ctx context.Context, o household.Options, weighings, events string) (in iter.Seq2[record.Event, error], done func(), err error) {
	tables, err := recorded.OpenTables(ctx, weighings, events, o.Cylinders[0].Name)
	if err != nil {
		return nil, nil, err
	}
	return func(yield func(record.Event, error) bool) {
		for row, err := range tables.Rows() {
			if !yield(row.Event, err) {
				return
			}
		}
	}, tables.Close, nil
}

// Terminal opens the channel on standard input and output.
func Terminal(in io.Reader, out io.Writer, data string, zone *time.Location, log *slog.Logger) func([]chat.Spec, store.Store) (chat.Channel, error) {
	return func(specs []chat.Spec, _ store.Store) (chat.Channel, error) {
		return terminal.New(terminal.Options{In: in, Out: out, Commands: specs, Dir: filepath.Join(data, "terminal"), Zone: zone, Log: log})
	}
}

// factSeen names the newest chat message that was handled.
const factSeen = "discord-seen"

// Discord opens the channel on Discord. transport is nil but in tests.
func Discord(d *config.Discord, token config.Secret, log *slog.Logger, transport http.RoundTripper) func([]chat.Spec, store.Store) (chat.Channel, error) {
	return func(specs []chat.Spec, facts store.Store) (chat.Channel, error) {
		return discord.New(discord.Options{
			Token: token.Reveal(), Channel: d.Channel, Roles: d.Roles, ReadMessages: d.FreeText, Commands: specs,
			LastSeen: func(ctx context.Context) (string, error) {
				id, _, err := facts.Fact(ctx, factSeen)
				return id, err
			},
			SetLastSeen: func(ctx context.Context, id string) error {
				_, err := facts.Write(ctx, store.Batch{Facts: map[string]string{factSeen: id}})
				return err
			},
			Log: log, Transport: transport,
		})
	}
}
