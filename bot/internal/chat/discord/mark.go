package discord

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"
)

// snowflake is the smallest id that the platform gives at time t: milliseconds since 2015 in the upper bits
// (Discord documentation: reference, snowflakes).
func snowflake(t time.Time) string {
	const epoch = 1420070400000
	return strconv.FormatInt(max(t.UnixMilli()-epoch, 0)<<22, 10)
}

// compare orders ids by age. They are numbers without leading zeros.
func compare(a, b string) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
}

// later is the younger of two ids.
func later(a, b string) string { return slices.MaxFunc([]string{a, b}, compare) }

// lastSeen is the id of the newest message handled, by this process or by an earlier one.
func (c *Channel) lastSeen(ctx context.Context) (string, error) {
	c.mu.Lock()
	seen := c.seen
	c.mu.Unlock()
	if seen != "" || c.opt.LastSeen == nil {
		return seen, nil
	}
	id, err := c.opt.LastSeen(ctx)
	if err != nil || !isID(id) {
		return "", err
	}
	return id, nil
}

// markHandled notes that a message has been handled. What was read from the history moves the mark, as everything older was too;
// what was heard live does not: something may have been missed before it, while the channel was hidden for instance. The
// mark stays before every message that is still to be judged.
func (c *Channel) markHandled(ctx context.Context, id string, past bool) {
	if !isID(id) {
		return
	}
	mark, moved := c.moveMark(id, past)
	if !moved || c.opt.SetLastSeen == nil {
		return
	}
	if err := c.opt.SetLastSeen(ctx, mark); err != nil {
		c.log.Warn("the newest message handled was not noted; it will be looked at again after a restart", "err", err)
	}
}

func (c *Channel) moveMark(id string, past bool) (mark string, moved bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !past {
		c.live = later(c.live, id)
		return "", false
	}
	c.newest = later(c.newest, id)
	mark = c.newest
	for _, h := range c.undecided() {
		if compare(h, mark) <= 0 {
			mark = before(h)
		}
	}
	moved = compare(mark, c.seen) > 0
	c.seen = later(c.seen, mark)
	return mark, moved
}

// saveLiveMark moves the mark to the newest message that was heard live, before a process ends that has read all before.
func (c *Channel) saveLiveMark(ctx context.Context) {
	c.mu.Lock()
	live, caught := c.live, c.caught
	c.mu.Unlock()
	if caught {
		c.markHandled(ctx, live, true)
	}
}

// before is the id that comes before another.
func before(id string) string {
	n, _ := strconv.ParseUint(id, 10, 64)
	return strconv.FormatUint(max(n, 1)-1, 10)
}
