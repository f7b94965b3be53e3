package discord

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strconv"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// command and option are what is registered. The client library's own types send fields that belong to other
// kinds of options.
type command struct {
	Name        string   `json:"name"`
	Type        int      `json:"type"`
	Description string   `json:"description"`
	Options     []option `json:"options"`
}

type option struct {
	Type         discordgo.ApplicationCommandOptionType `json:"type"`
	Name         string                                 `json:"name"`
	Description  string                                 `json:"description"`
	Required     bool                                   `json:"required,omitempty"`
	Autocomplete bool                                   `json:"autocomplete,omitempty"`
	Choices      []optionChoice                         `json:"choices,omitempty"`
}

type optionChoice struct {
	Name  string `json:"name"`
	Value any    `json:"value"` // string or float64
}

// maxChoices, of an option and of suggestions; maxWords, of their names, values and of descriptions.
const (
	maxChoices = 25
	maxWords   = 100
)

// validName is the platform's rule for names, as far as it concerns Latin letters (Discord documentation:
// application commands, naming).
var validName = regexp.MustCompile(`^[a-z0-9_-]{1,32}$`)

// commands brings specs into the platform's form. Required options come first there.
func commands(specs []chat.Spec) ([]command, error) {
	all := []command{}
	var errs []error
	for _, s := range specs {
		if !validName.MatchString(s.Name) {
			errs = append(errs, fmt.Errorf("command %q: the platform takes 1 to 32 small letters, digits, - and _", s.Name))
		}
		if len(s.Options) > 25 {
			errs = append(errs, fmt.Errorf("command %q has %d options; the platform takes 25", s.Name, len(s.Options)))
		}
		c := command{Name: s.Name, Type: 1, Description: describe(s.Summary, s.Name), Options: []option{}}
		for _, required := range []bool{true, false} {
			for _, o := range s.Options {
				if o.Required == required {
					made, err := makeOption(s.Name, o)
					c.Options, errs = append(c.Options, made), append(errs, err)
				}
			}
		}
		all = append(all, c)
	}
	if len(all) > 100 {
		errs = append(errs, fmt.Errorf("%d commands; the platform takes 100", len(all)))
	}
	return all, errors.Join(errs...)
}

func makeOption(command string, o chat.Option) (option, error) {
	made := option{Type: kinds[o.Kind], Name: o.Name, Description: describe(o.Summary, o.Name), Required: o.Required, Autocomplete: o.Suggest && len(o.Choices) == 0 && o.Kind != chat.Person} // the platform suggests the members itself
	if !validName.MatchString(o.Name) {
		return made, fmt.Errorf("option %q of command %q: the platform takes 1 to 32 small letters, digits, - and _", o.Name, command)
	}
	if len(o.Choices) > maxChoices {
		return made, fmt.Errorf("option %q of command %q has %d choices; the platform takes %d", o.Name, command, len(o.Choices), maxChoices)
	}
	made.Choices = choices(o.Choices, o.Kind)
	return made, nil
}

// describe is a description, which the platform does not let be empty.
func describe(summary, name string) string {
	return cmp.Or(cut(chat.OneLine(summary), maxWords), name)
}

var kinds = map[chat.OptionKind]discordgo.ApplicationCommandOptionType{
	chat.Text:   discordgo.ApplicationCommandOptionString,
	chat.Number: discordgo.ApplicationCommandOptionNumber,
	chat.Person: discordgo.ApplicationCommandOptionUser,
}

// choices brings suggested values into the platform's form; a value too long to be sent back is left out.
func choices(list []chat.Choice, kind chat.OptionKind) []optionChoice {
	out := []optionChoice{}
	for _, c := range list {
		var value any = c.Value
		if kind == chat.Number {
			x, err := strconv.ParseFloat(c.Value, 64)
			if err != nil {
				continue
			}
			value = x
		}
		label := cut(chat.OneLine(c.Label), maxWords)
		if label == "" || units(c.Value) > maxWords || c.Value == "" || len(out) == maxChoices {
			continue
		}
		out = append(out, optionChoice{Name: label, Value: value})
	}
	return out
}

// register tells the server's members which commands there are, in place of all that were there before.
func (c *Channel) register(ctx context.Context, p place) error {
	list, err := commands(c.opt.Commands)
	if err != nil {
		return err
	}
	return c.rest.do(ctx, call{doing: "registering the commands", method: http.MethodPut, url: discordgo.EndpointApplicationGuildCommands(p.app, p.guild), body: list})
}
