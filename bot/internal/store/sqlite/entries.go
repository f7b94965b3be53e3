package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

const insertEntry = `INSERT INTO entry
	(key, kind, cylinder, at, received, by_id, by_name, origin, gross_g, temp_c, name, value, text, voided)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING RETURNING seq`

// entryColumns in the order that scanEntry reads.
const entryColumns = `seq, key, kind, cylinder, at, received, by_id, by_name, origin, gross_g, temp_c, name, value, text, voided`

// Write stores b in one transaction: all of it or, with an error, nothing.
func (s *Store) Write(ctx context.Context, b store.Batch) (w store.Written, err error) {
	if err := valid(b); err != nil {
		return store.Written{}, fmt.Errorf("writing to the ledger: %w", err)
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return store.Written{}, fmt.Errorf("writing to the ledger: %w", explain(err))
	}
	defer func() { _ = tx.Rollback() }()
	w, err = apply(ctx, tx, b)
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return store.Written{}, fmt.Errorf("writing to the ledger: %w", explain(err))
	}
	return w, nil
}

// valid refuses what no database should hold.
func valid(b store.Batch) error {
	for i, e := range b.Entries {
		if e.Key == "" {
			return fmt.Errorf("entry %d has no key", i)
		}
	}
	for i, o := range b.Outgoing {
		if o.Key == "" || o.Created.IsZero() {
			return fmt.Errorf("outgoing %d (%q) has no key or no time of creation", i, o.Key)
		}
	}
	return nil
}

func apply(ctx context.Context, tx *sql.Tx, b store.Batch) (w store.Written, err error) {
	if w.Entries, err = addEntries(ctx, tx, b.Entries); err != nil {
		return w, err
	}
	for _, seq := range b.Void {
		if err := void(ctx, tx, seq); err != nil {
			return w, err
		}
	}
	if w.Outgoing, err = addOutgoing(ctx, tx, b.Outgoing); err != nil {
		return w, err
	}
	for name, value := range b.Facts {
		_, err := tx.ExecContext(ctx, `INSERT INTO fact VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value`, name, value)
		if err != nil {
			return w, err
		}
	}
	return w, nil
}

func addEntries(ctx context.Context, tx *sql.Tx, list []store.Entry) ([]store.Entry, error) {
	if len(list) == 0 {
		return nil, nil
	}
	insert, err := tx.PrepareContext(ctx, insertEntry)
	if err != nil {
		return nil, err
	}
	defer func() { _ = insert.Close() }()
	stored := make([]store.Entry, len(list))
	for i, e := range list {
		if e.Event, err = e.Kept(); err != nil {
			return nil, fmt.Errorf("entry %q: %w", e.Key, err)
		}
		e.Seq, e.Received = 0, fromMS(toMS(e.Received))
		kind, name := toldRow, string(e.Kind)
		var gross float64
		var temp sql.NullFloat64
		if e.Kind == record.Weighed {
			kind, name, gross, temp = weighedRow, "", float64(e.Gross), sql.NullFloat64{Float64: float64(e.Temp), Valid: e.HasTemp}
		}
		err := insert.QueryRowContext(ctx, e.Key, kind, e.Cylinder, toMS(e.At), toMS(e.Received), e.Account, e.By,
			string(e.Origin), gross, temp, name, e.Value(), e.Text, e.Voided).Scan(&e.Seq)
		if err != nil && !errors.Is(err, sql.ErrNoRows) { // no row: the key was known
			return nil, err
		}
		stored[i] = e
	}
	return stored, nil
}

func void(ctx context.Context, tx *sql.Tx, seq int64) error {
	r, err := tx.ExecContext(ctx, `UPDATE entry SET voided = 1 WHERE seq = ?`, seq)
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return errors.Join(fmt.Errorf("voiding entry %d: %w", seq, store.ErrNotFound), err)
	}
	return nil
}

// Entries calls yield for every entry with Seq > after, in the order (At, Seq), voided ones included. It stops at
// the first error of yield and returns it. yield may use the store.
func (s *Store) Entries(ctx context.Context, after int64, yield func(store.Entry) error) error {
	return eachEntry(ctx, s.read, after, yield)
}

// querier is what reads: a pool of connections or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func eachEntry(ctx context.Context, db querier, after int64, yield func(store.Entry) error) error {
	rows, err := db.QueryContext(ctx, `SELECT `+entryColumns+` FROM entry WHERE seq > ? ORDER BY at, seq`, after)
	if err != nil {
		return fmt.Errorf("reading the ledger: %w", explain(err))
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return fmt.Errorf("reading the ledger: %w", explain(err))
		}
		if err := yield(e); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("reading the ledger: %w", explain(err))
	}
	return nil
}

// Known reports whether an entry with this key was accepted, voided or not.
func (s *Store) Known(ctx context.Context, key string) (yes bool, err error) {
	if err := s.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM entry WHERE key = ?)`, key).Scan(&yes); err != nil {
		return false, fmt.Errorf("looking for entry %q: %w", key, explain(err))
	}
	return yes, nil
}

const recent = `SELECT ` + entryColumns + ` FROM entry WHERE origin <> 'scale' AND (?1 = '' OR kind = ?1) AND (?2 = '' OR name = ?2) ORDER BY seq DESC LIMIT ?3`

// Recent is the newest n entries of a kind (empty: any) that somebody made, newest acceptance first, voided ones included.
func (s *Store) Recent(ctx context.Context, kind record.Kind, n int) ([]store.Entry, error) {
	row, name := "", string(kind)
	if kind == record.Weighed {
		row, name = weighedRow, ""
	}
	rows, err := s.read.QueryContext(ctx, recent, row, name, max(n, 0))
	if err != nil {
		return nil, fmt.Errorf("reading the newest entries: %w", explain(err))
	}
	list, err := collect(rows, scanEntry)
	if err != nil {
		return nil, fmt.Errorf("reading the newest entries: %w", explain(err))
	}
	return list, nil
}

// Entry is the entry with this number, or store.ErrNotFound.
func (s *Store) Entry(ctx context.Context, seq int64) (store.Entry, error) {
	e, err := scanEntry(s.read.QueryRowContext(ctx, `SELECT `+entryColumns+` FROM entry WHERE seq = ?`, seq))
	if err != nil {
		return store.Entry{}, fmt.Errorf("reading entry %d: %w", seq, missing(err))
	}
	return e, nil
}

// Fact is a remembered value; ok is false when there is none of this name.
func (s *Store) Fact(ctx context.Context, name string) (value string, ok bool, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT value FROM fact WHERE name = ?`, name).Scan(&value)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", false, nil
	case err != nil:
		return "", false, fmt.Errorf("reading %q: %w", name, explain(err))
	}
	return value, true, nil
}

type scanner interface{ Scan(...any) error }

// The kinds of rows: a weighing with its mass and temperature, or what was told with its name and value.
const (
	weighedRow = "weighing"
	toldRow    = "event"
)

// scanEntry reads a row. What was struck out need not be readable.
func scanEntry(r scanner) (e store.Entry, err error) {
	var at, received int64
	var kind, name, value, cylinder, by, origin string
	var gross float64
	var temp sql.NullFloat64
	err = r.Scan(&e.Seq, &e.Key, &kind, &cylinder, &at, &received, &e.Account, &by, &origin, &gross, &temp, &name, &value, &e.Text, &e.Voided)
	if err != nil {
		return e, err
	}
	if kind == weighedRow {
		e.Event = record.Event{Kind: record.Weighed, Gross: unit.Grams(gross), Temp: unit.Celsius(temp.Float64), HasTemp: temp.Valid}
	} else if e.Event, err = record.Read(record.Kind(name), value); err != nil {
		err = fmt.Errorf("entry %q, %s %q: %w: %w", e.Key, name, value, store.ErrDamaged, err)
	}
	e.Cylinder, e.At, e.By, e.Origin, e.Received = cylinder, fromMS(at), by, record.Origin(origin), fromMS(received)
	if e.Voided {
		err = nil
	}
	return e, err
}

// collect reads all rows and closes them.
func collect[T any](rows *sql.Rows, scan func(scanner) (T, error)) (list []T, err error) {
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, rows.Err()
}

// missing turns "no rows" into store.ErrNotFound.
func missing(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return store.ErrNotFound
	}
	return explain(err)
}

func toMS(t time.Time) int64    { return t.UnixMilli() }
func fromMS(ms int64) time.Time { return time.UnixMilli(ms).UTC() }
