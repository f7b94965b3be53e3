package app

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"tarebell/bot/internal/chat/discord/discordtest"
	"tarebell/bot/internal/store/storetest"
	"tarebell/bot/internal/tables"
	"tarebell/config"
)

// TestExportWhileRunning exports, twice, the ledger of a bot that runs in another process and polls its scale all the while. Each
// export is one moment: entries are numbered without a gap, and the three tables agree.
func TestExportWhileRunning(t *testing.T) {
	platform := discordtest.New(t)
	platform.MessageContent = true
	scale := busyHouse()
	defer scale.Close()
	dir := t.TempDir()
	bot := startChild(t, childConfig(t, dir, scale.URL, platform), dir, platform)
	defer func() {
		bot.Process.Signal(syscall.SIGTERM)
		if err := bot.Wait(); err != nil {
			t.Errorf("after SIGTERM: %v", err)
		}
	}()
	connected(t, platform)
	cfg, err := config.Load(filepath.Join(dir, "house.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	first := exportLive(t, cfg, dir, 20)
	second := exportLive(t, cfg, dir, first+20)
	t.Logf("%d entries, then %d", first, second)
}

// exportLive waits until the ledger holds at least least entries, exports it, and returns how many entries came out.
func exportLive(t *testing.T, cfg *config.Config, data string, least int) int {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for n := 0; n < least; {
		r, err := Snapshot(ctx, data)
		if err != nil {
			t.Fatal(err)
		}
		n = len(storetest.All(t, r))
		r.Close()
	}
	r, err := Snapshot(ctx, data)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	out := t.TempDir()
	count, err := tables.Export(ctx, r, out, Tables(cfg))
	if err != nil {
		t.Fatal(err)
	}
	rows := table(t, filepath.Join(out, "history.csv"))
	seen := map[int]bool{}
	for _, row := range rows {
		n, err := strconv.Atoi(row[0])
		if err != nil || seen[n] || n < 1 || n > len(rows) {
			t.Errorf("entry number %q of %d: %v", row[0], len(rows), err)
		}
		seen[n] = true
	}
	if n := len(table(t, filepath.Join(out, "weighings.csv"))); n != count.Weighings || count.Weighings+count.Events != len(rows) || len(rows) < least {
		t.Errorf("%d weighings in their table, %+v told, %d entries in all, want at least %d", n, count, len(rows), least)
	}
	return len(rows)
}

// table is the rows of a file below its head.
func table(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatal(len(rows), err)
	}
	return rows[1:]
}
