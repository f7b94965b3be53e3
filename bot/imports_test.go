package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os/exec"
	"strings"
	"testing"
)

// TestImports: imports point one way. bot -> bot/internal -> {forecast, sources, config} -> forecast/unit, which is what
// all share; those three do not know each other; forecast does no I/O; only app imports adapters; discordgo has one home.
func TestImports(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "tarebell/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for dec := json.NewDecoder(bytes.NewReader(out)); ; n++ {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		for _, dep := range p.Imports {
			if why := forbidden(p.ImportPath, dep); why != "" {
				t.Errorf("%s imports %s: %s", p.ImportPath, dep, why)
			}
		}
	}
	if n < 25 {
		t.Errorf("go list knows %d packages, want them all", n)
	}
}

func under(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }

func forbidden(from, to string) string {
	const (
		unit     = "tarebell/forecast/unit"
		internal = "tarebell/bot/internal"
	)
	for _, root := range []string{"tarebell/forecast", "tarebell/sources", "tarebell/config"} {
		if under(from, root) && under(to, "tarebell") && !under(to, root) && !under(to, unit) {
			return root + " knows nothing but itself and forecast/unit"
		}
	}
	if under(from, unit) && under(to, "tarebell") && !under(to, unit) {
		return "forecast/unit is what all share, so it knows none of them"
	}
	if under(from, "tarebell/forecast") && !strings.HasSuffix(from, "reftest") {
		for _, outside := range []string{"os", "net", "log", "log/slog", "io/fs", "database/sql"} {
			if under(to, outside) {
				return "forecast is pure"
			}
		}
	}
	for _, adapter := range []string{"/chat/discord", "/chat/terminal", "/store/sqlite"} {
		if under(to, internal+adapter) && !under(from, internal+adapter) && from != internal+"/app" && from != internal+"/demo" && from != "tarebell/bot" {
			return "only app imports adapters"
		}
	}
	if under(to, "github.com/bwmarrin/discordgo") && !under(from, internal+"/chat/discord") {
		return "discordgo has one home"
	}
	if under(to, "github.com/prometheus") && from != internal+"/app" {
		return "app alone keeps metrics"
	}
	if (from == internal+"/notice" || from == internal+"/schedule") && (under(to, internal+"/chat") || under(to, internal+"/store")) {
		return "pure packages know no port"
	}
	return ""
}
