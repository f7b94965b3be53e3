package app

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"
	"golang.org/x/net/netutil"
	"golang.org/x/time/rate"
)

// Site answers over HTTP while households come and go: how all is, from the first moment on, and whether a weighing that was sent
// is taken.
type Site struct {
	meter
	app     atomic.Pointer[App] // nil: it starts, or starts anew
	since   atomic.Pointer[time.Time]
	pushes  *rate.Limiter
	strange *rate.Limiter // of those without the token

	mu     sync.Mutex
	listen string       // where weighings are taken
	server *http.Server // that takes them
}

// What boards may send: as many at once as a day of hourly weighings, then one in two seconds.
const (
	pushBurst = 24
	pushEvery = 2 * time.Second
)

// NewSite is a site of a household that is about to start.
func NewSite() *Site {
	s := &Site{pushes: rate.NewLimiter(rate.Every(pushEvery), pushBurst), strange: rate.NewLimiter(rate.Every(pushEvery), pushBurst)}
	s.meter = newMeter(s)
	s.show(nil)
	return s
}

// show answers for a from now on; nil: for a household that starts.
func (s *Site) show(a *App) {
	now := time.Now()
	s.since.Store(&now)
	s.app.Store(a)
}

// health is that of the household that runs.
func (s *Site) health() health {
	if a := s.app.Load(); a != nil {
		return a.Health()
	}
	return health{Starts: stampOf(*s.since.Load())}
}

// Serve answers /healthz and /metrics at addr until ctx ends.
func (s *Site) Serve(ctx context.Context, addr string) error {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) {
		h := s.health()
		status := http.StatusOK
		if !h.OK {
			status = http.StatusServiceUnavailable
		}
		answer(w, status, h)
	})
	mux.Handle("GET /metrics", promhttp.HandlerFor(s.registry, promhttp.HandlerOpts{}))
	server, err := serve(addr, mux)
	if err != nil {
		return fmt.Errorf("serving /healthz: %w", err)
	}
	context.AfterFunc(ctx, func() { server.Close() })
	return nil
}

// Listen takes weighings at addr from now on, and nowhere else; "" nowhere at all. After an error all is as it was.
func (s *Site) Listen(addr string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if addr == s.listen {
		return nil
	}
	var server *http.Server
	if addr != "" {
		mux := http.NewServeMux()
		mux.HandleFunc("POST /weighings", s.take)
		var err error
		if server, err = serve(addr, mux); err != nil {
			return fmt.Errorf("listening for weighings: %w", err)
		}
	}
	if s.server != nil {
		s.server.Close()
	}
	s.listen, s.server = addr, server
	return nil
}

// Bounds of what a client may cost.
const (
	mostClients  = 32
	mostHeader   = 16 << 10
	mostPatience = 10 * time.Second
)

// serve answers at addr until the server is closed.
func serve(addr string, h http.Handler) (*http.Server, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, err
	}
	s := &http.Server{Handler: h, ReadTimeout: mostPatience, WriteTimeout: 3 * mostPatience, IdleTimeout: mostPatience, MaxHeaderBytes: mostHeader}
	go s.Serve(netutil.LimitListener(l, mostClients))
	return s, nil
}

// answer writes v as JSON.
func answer(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(v)
}
