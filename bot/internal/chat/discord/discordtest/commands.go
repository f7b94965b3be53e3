package discordtest

import (
	"encoding/json"
	"regexp"
	"strings"
)

// Command is a registered command.
type Command struct {
	Name        string `json:"name"`
	Type        int    `json:"type"`
	Description string `json:"description"`
	ID          string `json:"-"`
	Options     []struct {
		Type         int    `json:"type"`
		Name         string `json:"name"`
		Description  string `json:"description"`
		Required     bool   `json:"required"`
		Autocomplete bool   `json:"autocomplete"`
		Choices      []struct {
			Name  string `json:"name"`
			Value any    `json:"value"`
		} `json:"choices"`
	} `json:"options"`
}

var commandName = regexp.MustCompile(`^[-_'\p{L}\p{N}]{1,32}$`)

func (p *Platform) putCommands(parts []string, q Request) (int, any) {
	if parts[1] != p.App || parts[3] != p.Guild {
		return refusal(403, 50001, "Missing Access")
	}
	var list []Command
	if err := json.Unmarshal(q.Body, &list); err != nil {
		return invalid("%v", err).answer()
	}
	for _, c := range list {
		if f := checkCommand(c); f != nil {
			return f.answer()
		}
	}
	out := []any{}
	for i, c := range list {
		list[i].ID = p.commandID(c.Name)
		options := []any{}
		for _, o := range c.Options {
			options = append(options, o)
		}
		out = append(out, object{"id": list[i].ID, "application_id": p.App, "guild_id": p.Guild, "version": p.nextID(), "options": options,
			"default_member_permissions": nil, "type": 1, "name": c.Name, "description": c.Description, "nsfw": false})
	}
	p.commands = list
	return 200, out
}

// commandID is the id of a command: a name that is registered again keeps it.
func (p *Platform) commandID(name string) string {
	for _, c := range p.commands {
		if c.Name == name {
			return c.ID
		}
	}
	return p.nextID()
}

func checkCommand(c Command) *failure {
	if !commandName.MatchString(c.Name) || strings.ToLower(c.Name) != c.Name {
		return invalid("name %q", c.Name)
	}
	if n := units(c.Description); n < 1 || n > 100 {
		return invalid("%s: description of %d characters", c.Name, n)
	}
	if len(c.Options) > 25 {
		return invalid("%s: %d options", c.Name, len(c.Options))
	}
	optional := false
	for _, o := range c.Options {
		for i, choice := range o.Choices {
			if f := checkChoice(i, object{"name": choice.Name, "value": choice.Value}); f != nil {
				return f
			}
		}
		if n := units(o.Description); !commandName.MatchString(o.Name) || n < 1 || n > 100 || len(o.Choices) > 25 {
			return invalid("%s: option %q", c.Name, o.Name)
		}
		if o.Required && optional {
			return invalid("%s: required option %q after an optional one", c.Name, o.Name)
		}
		optional = optional || !o.Required
		if o.Autocomplete && len(o.Choices) > 0 {
			return invalid("%s: option %q has choices and autocomplete", c.Name, o.Name)
		}
	}
	return nil
}
