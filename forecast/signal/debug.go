package signal

import "fmt"

func (f *Filter) Debug() string {
	return fmt.Sprintf("level %.0f sd %.1f np %d off %v steps %.0f n%d coef %.1f±%.1f", f.level, f.noise.sd, f.np, f.off, f.steps.sum(), f.steps.n, f.drift.coef, f.drift.sd)
}
