package app

import (
	"context"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"tarebell/bot/internal/store"
)

// meter counts for /metrics. Names and units follow https://prometheus.io/docs/practices/naming/: base units, of mass the gram; and
// https://prometheus.io/docs/practices/instrumentation/: the time of the last weighing rather than its age.
type meter struct {
	registry *prometheus.Registry
	readings *prometheus.CounterVec
	failures *prometheus.CounterVec
	notices  *prometheus.CounterVec
}

func newMeter(s *Site) meter {
	m := meter{registry: prometheus.NewRegistry(),
		readings: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "tarebell_readings_total",
			Help: "Readings asked of a scale or CO2 monitor, or sent by one, failed ones included."}, []string{"cylinder", "device"}),
		failures: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "tarebell_reading_failures_total",
			Help: "Readings that failed, by cause: unreachable, refused, unreadable, nonsense, stale, or ledger if they could not be stored."}, []string{"cylinder", "device", "cause"}),
		notices: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "tarebell_notices_total",
			Help: "Notices to the household, by kind."}, []string{"kind"})}
	m.registry.MustRegister(m.readings, m.failures, m.notices, &state{site: s},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// devices of /metrics by what the log calls them.
var deviceNames = map[string]string{"scale": "scale", "pushed weighing": "push", "CO2 monitor": "co2_monitor"}

// count counts a try to read a device.
func (m meter) count(cylinder, what string, err error) {
	m.readings.WithLabelValues(cylinder, deviceNames[what]).Inc()
	if err != nil {
		m.failures.WithLabelValues(cylinder, deviceNames[what], causeOf(err)).Inc()
	}
}

// said counts notices that were written; answers and changes of what stands already are none.
func (m meter) said(list []store.Outgoing) {
	for _, o := range list {
		if o.Kind != store.Answer && o.Edits == "" {
			m.notices.WithLabelValues(o.Kind).Inc()
		}
	}
}

// state is how the household stands when it is asked for.
type state struct {
	site *Site
	mu   sync.Mutex
	at   time.Time
	last []prometheus.Metric // as of at
}

var (
	healthyDesc = prometheus.NewDesc("tarebell_healthy", "1 if /healthz is well, else 0.", nil, nil)
	queueDesc   = prometheus.NewDesc("tarebell_outbox_notices", "Notices and answers that are not in the channel yet.", nil, nil)
	failingDesc = prometheus.NewDesc("tarebell_outbox_failing_notices", "Those of them that were tried and failed.", nil, nil)
	weighedDesc = prometheus.NewDesc("tarebell_last_weighing_timestamp_seconds", "When the last weighing that is believed was taken.", []string{"cylinder"}, nil)
	gasDesc     = prometheus.NewDesc("tarebell_gas_grams", "Net gas in the cylinder, heel included.", []string{"cylinder"}, nil)
	gasSDDesc   = prometheus.NewDesc("tarebell_gas_sd_grams", "Standard deviation of tarebell_gas_grams.", []string{"cylinder"}, nil)
)

// Describe implements prometheus.Collector.
func (s *state) Describe(c chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{healthyDesc, queueDesc, failingDesc, weighedDesc, gasDesc, gasSDDesc} {
		c <- d
	}
}

// freshGas is for how long the gas is not estimated anew: that takes milliseconds, on a small board tens of them.
const freshGas = time.Minute

// Collect implements prometheus.Collector.
func (s *state) Collect(c chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, x float64) { c <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, x) }
	healthy := 0.
	if s.site.health().OK {
		healthy = 1
	}
	gauge(healthyDesc, healthy)
	a := s.site.app.Load()
	if a == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), mostPatience)
	defer cancel()
	if n, err := a.store.Queue(ctx); err == nil {
		gauge(queueDesc, float64(n))
	}
	gauge(failingDesc, float64(len(a.Outbox.Health().Waits)))
	for _, m := range s.gas(a) {
		c <- m
	}
}

// gas is what is known of the cylinders.
func (s *state) gas(a *App) []prometheus.Metric {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := a.opt.Now()
	if age := now.Sub(s.at); age >= 0 && age < freshGas {
		return s.last
	}
	s.at, s.last = now, nil
	for _, cyl := range a.opt.Config.Cylinders {
		sit, ok := a.House.Situation(cyl.Name, now)
		if o := sit.Outlook; ok && o.Known {
			for d, x := range map[*prometheus.Desc]float64{weighedDesc: float64(o.LastSeen.UnixMilli()) / 1e3, gasDesc: o.Gas.Mean, gasSDDesc: o.Gas.SD} {
				s.last = append(s.last, prometheus.MustNewConstMetric(d, prometheus.GaugeValue, x, cyl.Name))
			}
		}
	}
	return s.last
}
