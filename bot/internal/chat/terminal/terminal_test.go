package terminal_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/chat/terminal"
)

// kitchen is a handler that answers in a recognisable way and remembers what it was told.
type kitchen struct {
	said    []chat.Said
	calls   []chat.Call
	presses []chat.Press
}

func (k *kitchen) Say(_ context.Context, s chat.Said) chat.Answer {
	k.said = append(k.said, s)
	if !strings.HasSuffix(s.Text, "kg") {
		return chat.Answer{}
	}
	return chat.Answer{Message: &chat.Message{Headline: "Understood: " + s.Text + " gross.", Buttons: []chat.Button{{ID: "undo:1", Label: "Undo"}}}}
}

func (k *kitchen) Call(_ context.Context, c chat.Call) chat.Answer {
	k.calls = append(k.calls, c)
	return chat.Answer{Message: &chat.Message{Headline: "Called " + c.Name + ".", Private: c.Name == "help"}}
}

func (k *kitchen) Press(_ context.Context, p chat.Press) chat.Answer {
	k.presses = append(k.presses, p)
	switch {
	case p.Button == "booked" && p.Fields == nil:
		return chat.Answer{Form: &chat.Form{ID: "booked", Title: "Refill booked", Fields: []chat.Field{
			{Name: "date", Label: "Which day does it come?", Example: "2026-06-20", Required: true},
			{Name: "note", Label: "Anything to add"},
		}}}
	case p.Button == "booked":
		return chat.Answer{Message: &chat.Message{Headline: "Booked for " + p.Fields["date"] + "."}}
	}
	return chat.Answer{Replace: true, Message: &chat.Message{Headline: "Undone."}}
}

func (k *kitchen) Suggest(context.Context, chat.Call, string) []chat.Choice {
	return []chat.Choice{{Label: "main", Value: "main"}, {Label: "spare", Value: "spare"}}
}

var specs = []chat.Spec{
	{Name: "weigh", Summary: "Enter a weighing", Options: []chat.Option{
		{Name: "weight", Summary: "what the scale says", Required: true},
		{Name: "when", Summary: "when it was read"},
		{Name: "cylinder", Summary: "which cylinder", Suggest: true}}},
	{Name: "made", Summary: "Drinks made", Options: []chat.Option{
		{Name: "count", Summary: "how many", Kind: chat.Number, Required: true},
		{Name: "by", Summary: "who made them", Kind: chat.Person}}},
	{Name: "valve", Summary: "The valve", Options: []chat.Option{
		{Name: "state", Summary: "open or closed", Required: true, Choices: []chat.Choice{{Label: "open", Value: "open"}, {Label: "shut tight", Value: "closed"}}},
		{Name: "cylinder", Summary: "which cylinder", Suggest: true, Required: true}}},
	{Name: "gas", Summary: "How much is left"},
	{Name: "help", Summary: "What can be said"},
}

var noon = time.Date(2026, 6, 14, 12, 0, 0, 0, time.UTC)

func open(t *testing.T, in string, change func(*terminal.Options)) (*terminal.Channel, *bytes.Buffer) {
	t.Helper()
	out := &bytes.Buffer{}
	o := terminal.Options{In: strings.NewReader(in), Out: out, Commands: specs, Now: func() time.Time { return noon }}
	if change != nil {
		change(&o)
	}
	c, err := terminal.New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c, out
}

func run(t *testing.T, in string) (*kitchen, string) {
	t.Helper()
	c, out := open(t, in, nil)
	k := &kitchen{}
	if err := c.Run(t.Context(), k); err != nil {
		t.Fatalf("Run: %v; want nil at the end of the input", err)
	}
	return k, out.String()
}

func same(t *testing.T, got, want string) {
	t.Helper()
	if d := cmp.Diff(strings.TrimLeft(want, "\n"), got); d != "" {
		t.Errorf("not as it should read (-want +got):\n%s", d)
	}
}

func TestLinesAreSaidByMe(t *testing.T) {
	k, out := run(t, "61.4 kg\n\n  good morning  \n58 kg")
	var got []string
	ids := map[string]bool{}
	for _, s := range k.said {
		got = append(got, s.By.ID+": "+s.Text)
		ids[s.ID] = true
	}
	if d := cmp.Diff([]string{"me: 61.4 kg", "me: good morning", "me: 58 kg"}, got); d != "" {
		t.Error(d)
	}
	if len(ids) != 3 {
		t.Errorf("ids %v; want one for each line", ids)
	}
	same(t, out, `
Sun 14 Jun 2026 12:00  Tarebell: Understood: 61.4 kg gross.
  [Undo] /press 1a
Sun 14 Jun 2026 12:00  Tarebell: Understood: 58 kg gross.
  [Undo] /press 2a
`)
}

func TestCommands(t *testing.T) {
	tests := []struct {
		rule, line string
		want       map[string]string
		note       string
	}{
		{"by name", "/made count:2", map[string]string{"count": "2"}, ""},
		{"in order", "/made 2 Anna", map[string]string{"count": "2", "by": "Anna"}, ""},
		{"capitals don't matter", "/MADE Count:2", map[string]string{"count": "2"}, ""},
		{"decimal comma", "/made 2,5", map[string]string{"count": "2.5"}, ""},
		{"free text takes all words", "/weigh 61.4 kg yesterday", map[string]string{"weight": "61.4 kg yesterday"}, ""},
		{"until the next name", "/weigh 61.4 kg when:this morning cylinder:main", map[string]string{"weight": "61.4 kg", "when": "this morning", "cylinder": "main"}, ""},
		{"quotes in order", `/weigh "61.4 kg" "yesterday 18:00" main`, map[string]string{"weight": "61.4 kg", "when": "yesterday 18:00", "cylinder": "main"}, ""},
		{"a time is no option", "/weigh 61.4 kg when:18:00", map[string]string{"weight": "61.4 kg", "when": "18:00"}, ""},
		{"quoted after a name", `/weigh when:"18:00 cylinder:x" weight:61`, map[string]string{"weight": "61", "when": "18:00 cylinder:x"}, ""},
		{"open quote", `/weigh "61.4 kg`, map[string]string{"weight": "61.4 kg"}, ""},
		{"a choice by its label", "/valve shut tight main", map[string]string{"state": "closed", "cylinder": "main"}, ""},
		{"no choice", "/valve ajar", nil, `state: read "ajar"; it can be open or shut tight`},
		{"no number", "/made two", nil, `count: read "two"; it wants a number, as in /made count:2`},
		{"not a finite number", "/made inf", nil, `count: read "inf"; it wants a number, as in /made count:2`},
		{"too much", "/made 2 Anna 3", nil, `"3" is one thing too many; it goes: /made count:… [by:…]`},
		{"a name that is no option", "/made 2 friend:Anna", nil, `"friend:Anna": there is no friend: here; it goes: /made count:… [by:…]`},
		{"twice", "/made count:2 count:3", nil, `count is given twice; it goes: /made count:… [by:…]`},
		{"misspelt name", "/weigh wieght:61", nil, `"wieght:61": did you mean weight:… ? It goes: /weigh weight:… [when:…] [cylinder:…]`},
		{"missing", "/made", nil, `count is missing (how many). It goes: /made count:… [by:…]`},
		{"missing, with suggestions", "/valve open", nil, "cylinder is missing (which cylinder). It goes: /valve state:… cylinder:…\n  cylinder can be: main or spare"},
		{"near miss", "/wiegh 61", nil, `There is no command /wiegh here. Did you mean /weigh? /help lists them all.`},
		{"far miss", "/xyzzy", nil, `There is no command /xyzzy here. /help lists them all.`},
		{"slash alone", "/", nil, `There is no command / here. /help lists them all.`},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			k, out := run(t, tt.line+"\n")
			if tt.want == nil {
				same(t, out, "  "+tt.note+"\n")
				if len(k.calls) > 0 {
					t.Errorf("called %v; want nothing", k.calls)
				}
				return
			}
			if len(k.calls) != 1 {
				t.Fatalf("%d calls, printed %q; want one", len(k.calls), out)
			}
			if d := cmp.Diff(tt.want, k.calls[0].Options); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestWhoIsMeant(t *testing.T) {
	k, _ := run(t, "/made 2 @Anna\n")
	want := map[string]chat.Member{"by": {ID: "Anna", Name: "Anna"}}
	if d := cmp.Diff(want, k.calls[0].People); d != "" {
		t.Error(d)
	}
}

func TestPress(t *testing.T) {
	k, out := run(t, "61.4 kg\n/press 1a\n/press 1a\n/press 7c\n/press\n")
	if len(k.presses) != 1 || k.presses[0].Button != "undo:1" {
		t.Errorf("pressed %v; want undo:1 once", k.presses)
	}
	same(t, out, `
Sun 14 Jun 2026 12:00  Tarebell: Understood: 61.4 kg gross.
  [Undo] /press 1a
Sun 14 Jun 2026 12:00  Tarebell: Undone.
  The buttons of message 1 have been dealt with.
  No message has buttons now.
  There is no button 7c.
  No message has buttons now.
  Say which button: /press and its code, as in /press 12a.
  No message has buttons now.
`)
}

var due = chat.Message{
	ID: "refill-2026-06-14", Headline: "Book the refill by Tue 23 Jun.", Severity: chat.Warning,
	Body:    []string{"About 12 days of gas are left.\nThe supplier is shut on Sunday.", "- two people carry it"},
	Buttons: []chat.Button{{ID: "booked", Label: "Booked…"}, {ID: "later", Label: "Remind me later"}},
	Files:   []chat.File{{Name: "gas left.png", Type: "image/png", Data: []byte("\x89PNG"), Alt: "gas left since April"}},
}

func TestForms(t *testing.T) {
	tests := []struct {
		rule, in string
		fields   map[string]string
		last     string
	}{
		{"line by line", "/press 1a\n2026-06-20\nring twice\n", map[string]string{"date": "2026-06-20", "note": "ring twice"}, "Booked for 2026-06-20."},
		{"a dot leaves out", "/press 1a\n.\n2026-06-20\n.\n", map[string]string{"date": "2026-06-20", "note": ""}, "Booked for 2026-06-20."},
		{"in one go", "/press 1a date:2026-06-20\n", map[string]string{"date": "2026-06-20", "note": ""}, "Booked for 2026-06-20."},
		{"the rest is asked for", "/press 1a note:ring\n2026-06-20\n", map[string]string{"date": "2026-06-20", "note": "ring"}, "Booked for 2026-06-20."},
		{"a command in between", "/press 1a\n/gas\n2026-06-20\n.\n", map[string]string{"date": "2026-06-20", "note": ""}, "Booked for 2026-06-20."},
		{"cancelled", "/press 1a\n/cancel\n", nil, `"Refill booked" was not sent: cancelled.`},
		{"input ends", "/press 1a\n2026-06-20\n", nil, `"Refill booked" was not sent: the input ended.`},
		{"wrong field", "/press 1a dat:2026\n/cancel\n", nil, `"Refill booked" was not sent: cancelled.`},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			c, out := open(t, tt.in, nil)
			if _, err := c.Post(t.Context(), due); err != nil {
				t.Fatal(err)
			}
			k := &kitchen{}
			if err := c.Run(t.Context(), k); err != nil {
				t.Fatal(err)
			}
			if !strings.HasSuffix(strings.TrimSpace(out.String()), tt.last) {
				t.Errorf("printed\n%s\nwant %q at the end", out, tt.last)
			}
			if got := k.presses[len(k.presses)-1].Fields; !cmp.Equal(tt.fields, got) {
				t.Errorf("sent %v; want %v", got, tt.fields)
			}
		})
	}
}

func TestNoticeAsItReads(t *testing.T) {
	dir := t.TempDir()
	c, out := open(t, "", func(o *terminal.Options) {
		o.Dir, o.Width, o.Zone = dir, 60, time.FixedZone("CEST", 2*3600)
	})
	if _, err := c.Post(t.Context(), due); err != nil {
		t.Fatal(err)
	}
	png := filepath.Join(dir, "attachments", "0001-gas-left.png")
	if data, err := os.ReadFile(png); err != nil || string(data) != "\x89PNG" {
		t.Errorf("picture: %q, %v", data, err)
	}
	same(t, strings.ReplaceAll(out.String(), png, "PNG"), `
Sun 14 Jun 2026 14:00  Tarebell, warning: Book the refill by
  Tue 23 Jun.
  About 12 days of gas are left.
  The supplier is shut on Sunday.
  - two people carry it
  picture:
  PNG
  - gas left since April
  [Booked…] /press 1a   [Remind me later] /press 1b
`)
}

func TestNothingTypedReachesTheTerminalRaw(t *testing.T) {
	c, out := open(t, "", func(o *terminal.Options) { o.Width = 80 })
	nasty := "a\x1b[2Jb\x07c\u202Ed\r\ne\xff\u009bf"
	m := chat.Message{Headline: nasty, Body: []string{nasty}, Buttons: []chat.Button{{ID: "x", Label: nasty}}, Files: []chat.File{{Name: "../../" + nasty, Alt: nasty}}}
	if _, err := c.Post(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	c.Handle(&kitchen{})
	c.Says(t.Context(), chat.Member{ID: "1", Name: nasty}, nasty)
	for _, r := range out.String() {
		if r != '\n' && (r < ' ' || r >= 0x7f && r < 0xa0 || r == '\u202E') {
			t.Fatalf("%q reaches the terminal in %q", r, out)
		}
	}
}

func TestPostedOnce(t *testing.T) {
	dir := t.TempDir()
	set := func(o *terminal.Options) { o.Dir = dir }
	c, _ := open(t, "", set)
	first, err := c.Post(t.Context(), due)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := c.Post(t.Context(), due); err != nil || again != first {
		t.Errorf("posted again as %q, %v; want %q", again, err, first)
	}
	_ = c.Close()

	c, out := open(t, "/press 1b\n", set) // another process, the same folder
	if again, err := c.Post(t.Context(), due); err != nil || again != first || out.Len() > 0 {
		t.Errorf("after a restart: %q, %v, printed %q; want %q and nothing printed", again, err, out, first)
	}
	if where, ok, err := c.Find(t.Context(), due.ID, noon); where != first || !ok || err != nil {
		t.Errorf("Find: %q, %v, %v; want %q", where, ok, err, first)
	}
	if _, ok, _ := c.Find(t.Context(), due.ID, noon.Add(time.Second)); ok {
		t.Error("found although it was posted earlier")
	}
	if _, ok, _ := c.Find(t.Context(), "other", noon); ok {
		t.Error("found what was never posted")
	}
	k := &kitchen{}
	if err := c.Run(t.Context(), k); err != nil || len(k.presses) != 1 || k.presses[0].Button != "later" {
		t.Errorf("old button: %v, %v; want it to work", k.presses, err)
	}
}

// A kill between writing the logbook and printing must not hide a notice; half a line is passed over.
func TestLogbookAfterACrash(t *testing.T) {
	dir := t.TempDir()
	text := `{"n":4,"at":"2026-06-14T11:00:00Z","message":{"id":"leak-1","headline":"Gas is going away.","severity":2}}` + "\n" + `{"n":5,"at":"2026-`
	if err := os.WriteFile(filepath.Join(dir, "logbook.jsonl"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	set := func(o *terminal.Options) { o.Dir = dir }
	c, out := open(t, "", set)
	if err := c.Run(t.Context(), &kitchen{}); err != nil {
		t.Fatal(err)
	}
	if where, err := c.Post(t.Context(), chat.Message{ID: "next", Headline: "Next."}); err != nil || where != "t5" {
		t.Errorf("posted as %q, %v", where, err)
	}
	same(t, out.String(), `
Sun 14 Jun 2026 11:00  Tarebell, DANGER (repeated after a restart): Gas is going away.
Sun 14 Jun 2026 12:00  Tarebell: Next.
`)
	_ = c.Close()
	c, out = open(t, "", set)
	if err := c.Run(t.Context(), &kitchen{}); err != nil || out.Len() > 0 {
		t.Errorf("%v, printed %q; want nothing twice", err, out)
	}
	if _, ok, _ := c.Find(t.Context(), "next", noon); !ok {
		t.Error("what was written after half a line is lost")
	}
}

func TestEdit(t *testing.T) {
	c, out := open(t, "", nil)
	where, err := c.Post(t.Context(), chat.Message{ID: "leak", Headline: "Since 11:00: 40 g."})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Edit(t.Context(), where, chat.Message{Headline: "Since 11:00: 90 g."}); err != nil {
		t.Fatal(err)
	}
	if err := c.Edit(t.Context(), "t9", chat.Message{}); !errors.Is(err, chat.ErrPermanent) {
		t.Errorf("editing what is not there: %v", err)
	}
	same(t, out.String(), `
Sun 14 Jun 2026 12:00  Tarebell: Since 11:00: 40 g.
Sun 14 Jun 2026 12:00  Tarebell (updated): Since 11:00: 90 g.
`)
}

func TestMembersOfADemonstration(t *testing.T) {
	c, out := open(t, "", nil)
	c.Handle(&kitchen{})
	anna := chat.Member{ID: "a", Name: "Anna"}
	c.Says(t.Context(), anna, "61.4 kg")
	c.Calls(t.Context(), anna, "made", "count", "2", "by", "Ben K")
	if _, err := c.Post(t.Context(), due); err != nil {
		t.Fatal(err)
	}
	if a := c.Presses(t.Context(), anna, "booked"); a.Form == nil {
		t.Error("no form")
	}
	c.Presses(t.Context(), anna, "booked", "date", "2026-06-20", "note", "")
	c.Presses(t.Context(), anna, "undo:1")
	same(t, out.String(), `
Sun 14 Jun 2026 12:00  Anna: 61.4 kg
Sun 14 Jun 2026 12:00  Tarebell: Understood: 61.4 kg gross.
  [Undo] /press 1a
Sun 14 Jun 2026 12:00  Anna: /made count:2 by:"Ben K"
Sun 14 Jun 2026 12:00  Tarebell: Called made.
Sun 14 Jun 2026 12:00  Tarebell, warning: Book the refill by Tue 23 Jun.
  About 12 days of gas are left.
  The supplier is shut on Sunday.
  - two people carry it
  picture: gas left.png (not kept) - gas left since April
  [Booked…] /press 3a   [Remind me later] /press 3b
Sun 14 Jun 2026 12:00  Anna: presses [Booked…]
Sun 14 Jun 2026 12:00  Anna: presses [Booked…] and fills in date: 2026-06-20
Sun 14 Jun 2026 12:00  Tarebell: Booked for 2026-06-20.
Sun 14 Jun 2026 12:00  Anna: presses [Undo]
Sun 14 Jun 2026 12:00  Tarebell: Undone.
`)
}

func TestEndOfTheInput(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	c, _ := open(t, "", func(o *terminal.Options) { o.In = r })
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := c.Run(ctx, &kitchen{}); err != nil {
		t.Errorf("Run after its context ended: %v; want nil", err)
	}
	c, _ = open(t, "", func(o *terminal.Options) { o.In = io.MultiReader(strings.NewReader("1 kg\n"), broken{}) })
	if err := c.Run(t.Context(), &kitchen{}); err == nil {
		t.Error("a broken input goes unnoticed")
	}
	long := strings.Repeat("x", 100_000)
	k, _ := run(t, long+"\n61 kg\n")
	if len(k.said) != 2 || len(k.said[0].Text) > 8000 || k.said[1].Text != "61 kg" {
		t.Errorf("a very long line spoils the next: %d lines", len(k.said))
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, fmt.Errorf("unplugged") }

func TestAsEveryChannel(t *testing.T) {
	for _, dir := range []bool{false, true} {
		chattest.Exercise(t, func(t *testing.T) chat.Channel {
			c, _ := open(t, "", func(o *terminal.Options) {
				o.Now = time.Now
				if dir {
					o.Dir = t.TempDir()
				}
			})
			return c
		})
	}
}
