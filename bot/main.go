// Command bot is Tarebell: it watches the CO2 cylinder of a household and tells, in the household's own chat,
// how much gas is left, when to book the refill, and whether gas leaks away.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// program is the command line.
type program struct {
	Demo     demoCommand     `cmd:"" help:"Run an invented household for four months in a few seconds, and see what it is told."`
	Run      runCommand      `cmd:"" help:"Watch the cylinder of your own household."`
	Check    checkCommand    `cmd:"" help:"Say what is wrong with a config file, or what was understood."`
	Replay   replayCommand   `cmd:"" help:"Run the same judgement over recorded weighings and write what it would have said."`
	Backtest backtestCommand `cmd:"" help:"Look back: how good were the forecasts on your own history?"`
	Preview  previewCommand  `cmd:"" help:"Show what would be posted at a time, and why nothing else, without posting it."`
	Export   exportCommand   `cmd:"" help:"Write the ledger into plain tables: those of replay, and one for a spreadsheet."`
	Import   importCommand   `cmd:"" help:"Take recorded weighings and events into the ledger."`
	Backup   backupCommand   `cmd:"" help:"Copy the ledger into a file; the bot may be running."`
	Schema   schemaCommand   `cmd:"" help:"Print the JSON Schema of the config, for an editor."`
	Version  versionCommand  `cmd:"" help:"Say which version this is."`
	Licences licencesCommand `cmd:"" help:"List the modules in this program and their licences."`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(os.Args[1:], &world{ctx, os.Stdin, os.Stdout, os.Stderr, os.Getenv}))
}

// run is the whole program without the process around it.
func run(args []string, w *world) (code int) {
	var p program
	exited := -1
	parser, err := kong.New(&p,
		kong.Name("bot"),
		kong.Description("Tarebell watches a household's CO2 cylinder and tells its chat how long the gas lasts, when to book the refill, and whether any leaks away."),
		kong.Writers(w.out, w.err),
		kong.Exit(func(c int) { exited = c }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.Vars{"config_help": "Config file, see README.md."},
	)
	if err != nil {
		fmt.Fprintln(w.err, "bot: error:", err)
		return exitFailed
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	command, err := parser.Parse(args)
	if exited >= 0 {
		return exited
	}
	if err != nil {
		fmt.Fprintf(w.err, "bot: error: %v\nbot: hint: bot --help lists the commands, bot COMMAND --help their options\n", err)
		return exitMisuse
	}
	if err := command.Run(w); err != nil {
		return report(w, err, "nothing was started")
	}
	return exitFine
}
