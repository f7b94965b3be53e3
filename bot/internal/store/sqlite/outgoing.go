package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"tarebell/bot/internal/store"
)

const insertOutgoing = `INSERT INTO outgoing
	(key, kind, grp, edits, urgent, created, due, next, attempts, state, unsure, refused, posted, err, payload)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING`

// outgoingColumns in the order that scanOutgoing reads.
const outgoingColumns = `id, key, kind, grp, edits, urgent, created, due, next, attempts, state, unsure, refused, posted, err, payload`

// claimable is the condition for a row to be claimed as soon as its time has come: it waits and no urgent one
// is ahead of it between two attempts.
var claimable = fmt.Sprintf(`state = 'waiting' AND (urgent = 1 OR NOT EXISTS
	(SELECT 1 FROM outgoing WHERE state = 'waiting' AND urgent = 1 AND attempts BETWEEN 1 AND %d))`, store.Patience-1)

var claim = `UPDATE outgoing SET state = 'posting' WHERE id =
	(SELECT id FROM outgoing WHERE ` + claimable + ` AND next <= ? ORDER BY urgent DESC, due, id LIMIT 1)
	RETURNING ` + outgoingColumns

var nextDue = `SELECT min(next) FROM outgoing WHERE ` + claimable

const settle = `UPDATE outgoing SET state = ?, next = ?, attempts = ?, unsure = ?, refused = ?, posted = ?, err = ? WHERE id = ?`

func addOutgoing(ctx context.Context, tx *sql.Tx, list []store.Outgoing) (added int, err error) {
	for _, o := range list {
		o = complete(o)
		r, err := tx.ExecContext(ctx, insertOutgoing, o.Key, o.Kind, o.Group, o.Edits, o.Urgent, toMS(o.Created), toMS(o.Due),
			toMS(o.Next), o.Attempts, string(o.State), o.Unsure, o.Refused, o.Posted, o.Err, o.Payload)
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
	o, err = scanOutgoing(s.claim.QueryRowContext(ctx, toMS(now)))
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return store.Outgoing{}, false, nil
	case err != nil:
		return store.Outgoing{}, false, fmt.Errorf("claiming the next notice: %w", explain(err))
	}
	return o, true, nil
}

// NextDue is the earliest time at which Claim could succeed; ok is false when nothing waits.
func (s *Store) NextDue(ctx context.Context) (at time.Time, ok bool, err error) {
	var next sql.NullInt64
	if err := s.nextDue.QueryRowContext(ctx).Scan(&next); err != nil {
		return time.Time{}, false, fmt.Errorf("looking for the next notice: %w", explain(err))
	}
	if !next.Valid {
		return time.Time{}, false, nil
	}
	return fromMS(next.Int64), true, nil
}

// Settle records what became of a claimed outgoing.
func (s *Store) Settle(ctx context.Context, o store.Outgoing) error {
	defer s.changing()()
	r, err := s.settle.ExecContext(ctx, string(o.State), toMS(o.Next), o.Attempts, o.Unsure, o.Refused, o.Posted, o.Err, o.ID)
	if err != nil {
		return fmt.Errorf("settling notice %q: %w", o.Key, explain(err))
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return fmt.Errorf("settling notice %q: %w", o.Key, cmp.Or(err, store.ErrNotFound))
	}
	return nil
}

// Overtaken reports whether a newer outgoing of the same Group waits or was posted.
func (s *Store) Overtaken(ctx context.Context, o store.Outgoing) (yes bool, err error) {
	if o.Group == "" {
		return false, nil
	}
	err = s.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM outgoing WHERE grp = ? AND grp <> '' AND id > ?
		AND state IN ('waiting', 'posting', 'posted'))`,
		o.Group, o.ID).Scan(&yes)
	if err != nil {
		return false, fmt.Errorf("looking for notices newer than %q: %w", o.Key, explain(err))
	}
	return yes, nil
}

// Hasten makes due at now all that wait only because an attempt failed.
func (s *Store) Hasten(ctx context.Context, now time.Time) (int, error) {
	defer s.changing()()
	r, err := s.write.ExecContext(ctx, `UPDATE outgoing SET next = ?1 WHERE state = 'waiting' AND attempts > 0 AND next > ?1`, toMS(now))
	if err != nil {
		return 0, fmt.Errorf("bringing notices forward: %w", explain(err))
	}
	n, err := r.RowsAffected()
	return int(n), err
}

// Queue is how many outgoing wait or are claimed.
func (s *Store) Queue(ctx context.Context) (n int, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM outgoing WHERE state = 'waiting') + (SELECT count(*) FROM outgoing WHERE state = 'posting')`).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("counting what is to be posted: %w", explain(err))
	}
	return n, nil
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
	rows, err := s.read.QueryContext(ctx, `SELECT `+outgoingColumns+` FROM outgoing `+where, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", doing, explain(err))
	}
	list, err := collect(rows, scanOutgoing)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", doing, explain(err))
	}
	return list, nil
}

// Outgoing is the notice of this key, or store.ErrNotFound.
func (s *Store) Outgoing(ctx context.Context, key string) (store.Outgoing, error) {
	o, err := scanOutgoing(s.read.QueryRowContext(ctx, `SELECT `+outgoingColumns+` FROM outgoing WHERE key = ?`, key))
	if err != nil {
		return store.Outgoing{}, fmt.Errorf("reading notice %q: %w", key, missing(err))
	}
	return o, nil
}

func scanOutgoing(r scanner) (o store.Outgoing, err error) {
	var created, due, next int64
	var state string
	err = r.Scan(&o.ID, &o.Key, &o.Kind, &o.Group, &o.Edits, &o.Urgent, &created, &due, &next, &o.Attempts, &state,
		&o.Unsure, &o.Refused, &o.Posted, &o.Err, &o.Payload)
	o.Created, o.Due, o.Next, o.State = fromMS(created), fromMS(due), fromMS(next), store.State(state)
	return o, err
}
