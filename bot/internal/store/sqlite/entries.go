package sqlite

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"iter"
	"math"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// entryColumns in the order of row.fields.
const entryColumns = `key, kind, cylinder, at, received, by_id, by_name, origin, gross_g, temp_c, name, value, text, voided, sum`

const insertEntry = `INSERT INTO entry (` + entryColumns + `)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING RETURNING seq`

// Write stores b in one transaction: all of it or, with an error, nothing.
func (s *Store) Write(ctx context.Context, b store.Batch) (w store.Written, err error) {
	defer s.changing()()
	err = errors.Join(valid(b), s.trouble())
	if err == nil {
		err = transaction(ctx, s.write, func(tx *sql.Tx) (err error) {
			w, err = apply(ctx, tx, b)
			return err
		})
	}
	if err == nil { // it may have gone into a file that nobody will open again
		err = s.gone()
	}
	if err != nil {
		return store.Written{}, failed(err, "writing to the ledger")
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
	return w, addCheckpoints(ctx, tx, b.Checkpoints)
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
		r := rowOf(e)
		err := insert.QueryRowContext(ctx, r.fields(&e.Voided, r.sum())...).Scan(&e.Seq)
		if err != nil && !errors.Is(err, sql.ErrNoRows) { // no row: the key was known
			return nil, err
		}
		stored[i] = e
	}
	return stored, nil
}

func void(ctx context.Context, tx *sql.Tx, seq int64) error {
	return failed(one(tx.ExecContext(ctx, `UPDATE entry SET voided = 1 WHERE seq = ?`, seq)), "voiding entry %d", seq)
}

// Entries are those after a position, in the order (At, Seq), voided ones included, up to the first error. The store may be used
// meanwhile.
func (s *Store) Entries(ctx context.Context, after store.Position) iter.Seq2[store.Entry, error] {
	return eachEntry(ctx, s.read, after)
}

func eachEntry(ctx context.Context, db querier, after store.Position) iter.Seq2[store.Entry, error] {
	from := int64(math.MinInt64)
	if !after.At.IsZero() {
		from = toMS(after.At)
	}
	return func(yield func(store.Entry, error) bool) {
		for e, err := range each(ctx, db, scanEntry, `SELECT seq, `+entryColumns+` FROM entry WHERE (at, seq) > (?, ?) ORDER BY at, seq`, from, after.Seq) {
			if !yield(e, failed(err, "reading the ledger")) {
				return
			}
		}
	}
}

// Known reports whether an entry with this key was accepted, voided or not.
func (s *Store) Known(ctx context.Context, key string) (yes bool, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM entry WHERE key = ?)`, key).Scan(&yes)
	return yes, failed(err, "looking for entry %q", key)
}

const recent = `SELECT seq, ` + entryColumns + ` FROM entry WHERE origin <> 'scale' AND (?1 = '' OR kind = ?1) AND (?2 = '' OR name = ?2) ORDER BY seq DESC LIMIT ?3`

// Recent is the newest n entries of a kind (empty: any) that somebody made, newest acceptance first, voided ones included.
func (s *Store) Recent(ctx context.Context, kind record.Kind, n int) ([]store.Entry, error) {
	row, name := "", string(kind)
	if kind == record.Weighed {
		row, name = weighedRow, ""
	}
	list, err := collect(ctx, s.read, scanEntry, recent, row, name, max(n, 0))
	return list, failed(err, "reading the newest entries")
}

// Entry is the entry with this number, or store.ErrNotFound.
func (s *Store) Entry(ctx context.Context, seq int64) (store.Entry, error) {
	e, err := scanEntry(s.read.QueryRowContext(ctx, `SELECT seq, `+entryColumns+` FROM entry WHERE seq = ?`, seq))
	return e, failed(missing(err), "reading entry %d", seq)
}

// Fact is a remembered value; ok is false when there is none of this name.
func (s *Store) Fact(ctx context.Context, name string) (value string, ok bool, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT value FROM fact WHERE name = ?`, name).Scan(&value)
	ok, err = found(err)
	return value, ok, failed(err, "reading %q", name)
}

// The kinds of rows: a weighing with its mass and temperature, or what was told with its name and value.
const (
	weighedRow = "weighing"
	toldRow    = "event"
)

// row is an entry as it stands in the table, but for seq, voided and sum.
type row struct {
	key, kind, cylinder  string
	at, received         int64
	byID, byName, origin string
	gross                float64
	temp                 sql.NullFloat64
	name, value, text    string
}

func (r *row) fields(voided *bool, sum any) []any {
	return []any{&r.key, &r.kind, &r.cylinder, &r.at, &r.received, &r.byID, &r.byName, &r.origin, &r.gross, &r.temp, &r.name, &r.value, &r.text, voided, sum}
}

func rowOf(e store.Entry) row {
	r := row{key: e.Key, kind: toldRow, cylinder: e.Cylinder, at: toMS(e.At), received: toMS(e.Received), byID: e.Account, byName: e.By,
		origin: string(e.Origin), name: string(e.Kind), value: e.Value(), text: e.Text}
	if e.Kind == record.Weighed {
		r.kind, r.name, r.gross, r.temp = weighedRow, "", float64(e.Gross), sql.NullFloat64{Float64: float64(e.Temp), Valid: e.HasTemp}
	}
	return r
}

// event is what the row tells.
func (r row) event() (e record.Event, err error) {
	if r.kind == weighedRow {
		e = record.Event{Kind: record.Weighed, Gross: unit.Grams(r.gross), Temp: unit.Celsius(r.temp.Float64), HasTemp: r.temp.Valid}
	} else if e, err = record.Read(record.Kind(r.name), r.value); err != nil {
		err = fmt.Errorf("entry %q, %s %q: %w: %w", r.key, r.name, r.value, store.ErrDamaged, err)
	}
	e.Cylinder, e.At, e.By, e.Origin = r.cylinder, fromMS(r.at), r.byName, record.Origin(r.origin)
	return e, err
}

// sum is a sum over what an entry holds and nobody may change.
func (r row) sum() int64 {
	b := make([]byte, 0, 256)
	for _, s := range []string{r.key, r.kind, r.cylinder, r.byID, r.byName, r.origin, r.name, r.value, r.text} {
		b = append(binary.AppendUvarint(b, uint64(len(s))), s...)
	}
	for _, n := range []int64{r.at, r.received} {
		b = binary.LittleEndian.AppendUint64(b, uint64(n))
	}
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(r.gross))
	if r.temp.Valid {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(r.temp.Float64))
	}
	return int64(sumOf(b))
}

// scanEntry reads an entry. What was struck out need not be readable.
func scanEntry(s scanner) (e store.Entry, err error) {
	var r row
	var sum sql.NullInt64
	if err := s.Scan(append([]any{&e.Seq}, r.fields(&e.Voided, &sum)...)...); err != nil {
		return e, err
	}
	e.Key, e.Received, e.Account, e.Text = r.key, fromMS(r.received), r.byID, r.text
	if e.Event, err = r.event(); e.Voided {
		err = nil
	}
	if sum.Valid && sum.Int64 != r.sum() {
		err = fmt.Errorf("%w: entry %d does not read as it was written; put a backup in the place of the file, and keep the damaged one", store.ErrDamaged, e.Seq)
	}
	return e, err
}
