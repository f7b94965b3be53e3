package command

import (
	"testing"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/forecast/unit/record"
)

// A name alone never speaks for somebody whose account the config lists; the account does, under whatever name.
func TestAccountsWinOverNames(t *testing.T) {
	b := newTableOf(t, func(_ *household.Options, o *Options) {
		o.Members = []record.Member{{Name: "Marta", ID: "5"}, {Name: "Bo"}}
	})
	for _, tt := range []struct{ by, want chat.Member }{
		{chat.Member{ID: "5", Name: "Bo"}, chat.Member{ID: "5", Name: "Marta"}},
		{chat.Member{ID: "6", Name: "marta "}, chat.Member{ID: "6", Name: "marta  (account 6)"}},
		{chat.Member{ID: "7", Name: "Bo"}, chat.Member{ID: "7", Name: "Bo"}},
		{chat.Member{Name: "Marta"}, chat.Member{Name: "Marta"}}, // of a terminal, where there are no accounts
	} {
		if got := b.Handler.memberOf(tt.by); got.ID != tt.want.ID || got.Name != tt.want.Name {
			t.Errorf("%+v is taken for %+v; want %+v", tt.by, got, tt.want)
		}
	}
}
