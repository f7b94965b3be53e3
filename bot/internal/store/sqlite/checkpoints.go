package sqlite

import (
	"context"
	"database/sql"
	"hash/crc32"
	"math"
	"time"

	"tarebell/bot/internal/store"
)

// upTo is a moment in milliseconds, not before t: an entry of that very millisecond may come after t.
func upTo(t time.Time) int64 {
	ms := toMS(t)
	if fromMS(ms).Before(t) {
		ms++
	}
	return ms
}

// addCheckpoints stores states that hold all entries of the ledger up to their moment; those of another program or config go.
func addCheckpoints(ctx context.Context, tx *sql.Tx, list []store.Checkpoint) error {
	for _, c := range list {
		if _, err := tx.ExecContext(ctx, `DELETE FROM checkpoint WHERE print <> ?`, c.Print); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO checkpoint (slot, at, seq, print, sum, state)
			VALUES (?, ?, (SELECT coalesce(max(seq), 0) FROM entry), ?, ?, ?)`, c.Slot, upTo(c.At), c.Print, sumOf(c.State), c.State)
		if err != nil {
			return err
		}
	}
	return nil
}

// Checkpoint is the newest state of this print that lies before a time (zero: the newest); ok is false when there is none. One that
// does not read as it was written is passed over.
func (s *Store) Checkpoint(ctx context.Context, print string, before time.Time) (c store.Checkpoint, ok bool, err error) {
	end := int64(math.MaxInt64)
	if !before.IsZero() {
		end = toMS(before)
	}
	scan := func(r scanner) (c store.Checkpoint, err error) {
		var sum uint32
		err = r.Scan(&c.Slot, stamp{&c.At}, &c.Seq, &c.Print, &sum, &c.State)
		if sum != sumOf(c.State) {
			c.State = nil
		}
		return c, err
	}
	for c, err := range each(ctx, s.read, scan, `SELECT slot, at, seq, print, sum, state FROM checkpoint WHERE print = ? AND at < ? ORDER BY at DESC`, print, end) {
		if err != nil || c.State != nil {
			return c, err == nil, failed(err, "looking for a checkpoint")
		}
	}
	return c, false, nil
}

// castagnoli finds every burst of up to 32 wrong bits (RFC 3720, 12.1).
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func sumOf(b []byte) uint32 { return crc32.Checksum(b, castagnoli) }
