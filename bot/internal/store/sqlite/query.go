package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"iter"
	"time"

	"tarebell/bot/internal/store"
)

// querier is what reads: a pool of connections or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// scanner is a row that was found.
type scanner interface{ Scan(...any) error }

// each goes through the rows of a query, up to the first error.
func each[T any](ctx context.Context, db querier, scan func(scanner) (T, error), query string, args ...any) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		rows, err := db.QueryContext(ctx, query, args...)
		var v T
		if err == nil {
			defer func() { _ = rows.Close() }()
			for rows.Next() {
				if v, err = scan(rows); !yield(v, err) || err != nil {
					return
				}
			}
			err = rows.Err()
		}
		if err != nil {
			yield(v, err)
		}
	}
}

// collect is all rows of a query.
func collect[T any](ctx context.Context, db querier, scan func(scanner) (T, error), query string, args ...any) (list []T, err error) {
	for v, err := range each(ctx, db, scan, query, args...) {
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, nil
}

// transaction commits what do does, or nothing of it if that ends with an error.
func transaction(ctx context.Context, db *sql.DB, do func(*sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// one is store.ErrNotFound unless something was changed.
func one(r sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n > 0 {
		return err
	}
	return store.ErrNotFound
}

// found reports whether there was a row; that there is none is no error.
func found(err error) (ok bool, other error) {
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// missing turns "no rows" into store.ErrNotFound.
func missing(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return store.ErrNotFound
	}
	return err
}

// failed adds to an error, if there is one, what was being done and what it means for the ledger.
func failed(err error, doing string, args ...any) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", fmt.Sprintf(doing, args...), explain(err))
}

// stamp is a time as it stands in a table, in milliseconds.
type stamp struct{ t *time.Time }

// Value implements driver.Valuer.
func (s stamp) Value() (driver.Value, error) { return toMS(*s.t), nil }

// Scan implements sql.Scanner.
func (s stamp) Scan(v any) error {
	ms, ok := v.(int64)
	if !ok {
		return fmt.Errorf("%w: %v is no time", store.ErrDamaged, v)
	}
	*s.t = fromMS(ms)
	return nil
}

func toMS(t time.Time) int64    { return t.UnixMilli() }
func fromMS(ms int64) time.Time { return time.UnixMilli(ms).UTC() }
