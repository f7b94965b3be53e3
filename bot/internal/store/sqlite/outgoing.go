package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"time"

	"tarebell/bot/internal/store"
)

// outgoingColumns in the order of outgoingFields.
const outgoingColumns = `key, kind, grp, edits, urgent, created, due, next, attempts, state, unsure, refused, posted, err, payload`

const insertOutgoing = `INSERT INTO outgoing (` + outgoingColumns + `)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING`

func outgoingFields(o *store.Outgoing) []any {
	return []any{&o.Key, &o.Kind, &o.Group, &o.Edits, &o.Urgent, stamp{&o.Created}, stamp{&o.Due}, stamp{&o.Next}, &o.Attempts, &o.State,
		&o.Unsure, &o.Refused, &o.Posted, &o.Err, &o.Payload}
}

func scanOutgoing(r scanner) (o store.Outgoing, err error) {
	return o, r.Scan(append([]any{&o.ID}, outgoingFields(&o)...)...)
}

// claimable is the condition for a row to be claimed as soon as its time has come: it waits and no urgent one
// is ahead of it between two attempts.
var claimable = fmt.Sprintf(`state = 'waiting' AND (urgent = 1 OR NOT EXISTS
	(SELECT 1 FROM outgoing WHERE state = 'waiting' AND urgent = 1 AND attempts BETWEEN 1 AND %d))`, store.Patience-1)

var claim = `UPDATE outgoing SET state = 'posting' WHERE id =
	(SELECT id FROM outgoing WHERE ` + claimable + ` AND next <= ? ORDER BY urgent DESC, due, id LIMIT 1)
	RETURNING id, ` + outgoingColumns

var nextDue = `SELECT min(next) FROM outgoing WHERE ` + claimable

const settle = `UPDATE outgoing SET state = ?, next = ?, attempts = ?, unsure = ?, refused = ?, posted = ?, err = ? WHERE id = ?`

func addOutgoing(ctx context.Context, tx *sql.Tx, list []store.Outgoing) (added int, err error) {
	for _, o := range list {
		o = complete(o)
		r, err := tx.ExecContext(ctx, insertOutgoing, outgoingFields(&o)...)
		if err != nil {
			return added, err
		}
		n, err := r.RowsAffected()
		if err != nil {
			return added, err
		}
		added += int(n)
	}
	return added, nil
}

// complete fills in what a writer may leave out.
func complete(o store.Outgoing) store.Outgoing {
	if o.Due.IsZero() {
		o.Due = o.Created
	}
	if o.Next.IsZero() {
		o.Next = o.Due
	}
	o.State = cmp.Or(o.State, store.Waiting)
	if o.Payload == nil {
		o.Payload = []byte{}
	}
	return o
}

// Claim takes the next outgoing that is due at now, urgent first, then oldest, and marks it Posting.
func (s *Store) Claim(ctx context.Context, now time.Time) (o store.Outgoing, ok bool, err error) {
	defer s.changing()()
	o, err = scanOutgoing(s.write.QueryRowContext(ctx, claim, toMS(now)))
	ok, err = found(err)
	return o, ok, failed(err, "claiming the next notice")
}

// NextDue is the earliest time at which Claim could succeed; ok is false when nothing waits.
func (s *Store) NextDue(ctx context.Context) (at time.Time, ok bool, err error) {
	var next sql.NullInt64
	if err := s.read.QueryRowContext(ctx, nextDue).Scan(&next); err != nil || !next.Valid {
		return at, false, failed(err, "looking for the next notice")
	}
	return fromMS(next.Int64), true, nil
}

// Settle records what became of a claimed outgoing.
func (s *Store) Settle(ctx context.Context, o store.Outgoing) error {
	defer s.changing()()
	return failed(one(s.write.ExecContext(ctx, settle, o.State, stamp{&o.Next}, o.Attempts, o.Unsure, o.Refused, o.Posted, o.Err, o.ID)), "settling notice %q", o.Key)
}

// Overtaken reports whether a newer outgoing of the same Group waits or was posted.
func (s *Store) Overtaken(ctx context.Context, o store.Outgoing) (yes bool, err error) {
	if o.Group == "" {
		return false, nil
	}
	err = s.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM outgoing WHERE grp = ? AND grp <> '' AND id > ?
		AND state IN ('waiting', 'posting', 'posted'))`, o.Group, o.ID).Scan(&yes)
	return yes, failed(err, "looking for notices newer than %q", o.Key)
}

// Hasten makes due at now all that wait only because an attempt failed.
func (s *Store) Hasten(ctx context.Context, now time.Time) (int, error) {
	defer s.changing()()
	r, err := s.write.ExecContext(ctx, `UPDATE outgoing SET next = ?1 WHERE state = 'waiting' AND attempts > 0 AND next > ?1`, toMS(now))
	if err != nil {
		return 0, failed(err, "bringing notices forward")
	}
	n, err := r.RowsAffected()
	return int(n), err
}

// Queue is how many outgoing wait or are claimed.
func (s *Store) Queue(ctx context.Context) (n int, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM outgoing WHERE state = 'waiting') + (SELECT count(*) FROM outgoing WHERE state = 'posting')`).Scan(&n)
	return n, failed(err, "counting what is to be posted")
}

// Unsettled lists what was claimed by a process that died.
func (s *Store) Unsettled(ctx context.Context) ([]store.Outgoing, error) {
	return s.outgoing(ctx, "reading unsettled notices", `WHERE state = 'posting' ORDER BY id`)
}

// History is the newest n outgoing that are no answers, newest first.
func (s *Store) History(ctx context.Context, n int) ([]store.Outgoing, error) {
	return s.outgoing(ctx, "reading past notices", `WHERE kind <> ? ORDER BY id DESC LIMIT ?`, store.Answer, max(n, 0))
}

func (s *Store) outgoing(ctx context.Context, doing, where string, args ...any) ([]store.Outgoing, error) {
	list, err := collect(ctx, s.read, scanOutgoing, `SELECT id, `+outgoingColumns+` FROM outgoing `+where, args...)
	return list, failed(err, "%s", doing)
}

// Outgoing is the notice of this key, or store.ErrNotFound.
func (s *Store) Outgoing(ctx context.Context, key string) (store.Outgoing, error) {
	o, err := scanOutgoing(s.read.QueryRowContext(ctx, `SELECT id, `+outgoingColumns+` FROM outgoing WHERE key = ?`, key))
	return o, failed(missing(err), "reading notice %q", key)
}
