package preview

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"dropwright/series/site"
)

// Site prints pages by their path. watch is what the server calls the present state.
type Site interface {
	Page(ctx context.Context, path, watch string) (site.Page, error)
	// Trouble prints a page for a path that has none: err is site.ErrNoPage, or what went wrong.
	Trouble(ctx context.Context, path, watch string, err error) (site.Page, error)
}

// Server serves a site on loopback.
type Server struct {
	site  Site
	state *state
	ports []int // that it answers to
	open  atomic.Int32
	done  chan struct{}
}

// Limits of the server. One maker with some tabs open needs a tenth of them.
const (
	maxWatching = 64               // open connections that wait for a change
	maxHeader   = 16 << 10         // bytes
	beat        = 15 * time.Second // between signs of life on a connection that waits
	firstPort   = 4330             // no service of note is registered there (IANA, from memory)
	portsTried  = 20
)

// New makes a server. Nothing is served before Serve.
func New(s Site) *Server { return &Server{site: s, state: newState(), done: make(chan struct{})} }

// Touch says that the pages of some areas are out of date: names of designs, or Everything.
func (s *Server) Touch(areas ...string) { s.state.touch(areas...) }

// PortTakenError says that a port that was asked for is in use.
type PortTakenError struct {
	Port int
	Err  error
}

func (e *PortTakenError) Error() string { return fmt.Sprintf("port %d is taken", e.Port) }
func (e *PortTakenError) Unwrap() error { return e.Err }

// Listen opens a port on 127.0.0.1, and the same on [::1] where there is one. port 0 takes the first free one from
// 4330 on; moved says that 4330 itself was taken.
func Listen(port int) (listeners []net.Listener, got int, moved bool, err error) {
	try := []int{port}
	if port == 0 {
		try = nil
		for i := range portsTried {
			try = append(try, firstPort+i)
		}
		try = append(try, 0) // whatever the system has
	}
	for i, p := range try {
		l, lerr := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(p)))
		if lerr != nil {
			err = &PortTakenError{Port: p, Err: lerr}
			continue
		}
		got = l.Addr().(*net.TCPAddr).Port
		listeners = append(listeners, l)
		if six, serr := net.Listen("tcp6", net.JoinHostPort("::1", strconv.Itoa(got))); serr == nil {
			listeners = append(listeners, six) // a machine without IPv6 has none, and needs none
		}
		return listeners, got, i > 0, nil
	}
	return nil, 0, false, err
}

// Serve answers until ctx ends. It closes the listeners.
func (s *Server) Serve(ctx context.Context, listeners []net.Listener) error {
	for _, l := range listeners {
		if a, ok := l.Addr().(*net.TCPAddr); !ok || !a.IP.IsLoopback() {
			return fmt.Errorf("%s is not loopback", l.Addr())
		} else if !slices.Contains(s.ports, a.Port) {
			s.ports = append(s.ports, a.Port)
		}
	}
	h := &http.Server{Handler: s, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: maxHeader}
	failed := make(chan error, len(listeners))
	for _, l := range listeners {
		go func() { failed <- h.Serve(l) }()
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	close(s.done)
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	if serr := h.Shutdown(end); serr != nil {
		_ = h.Close()
	}
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return err
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Cache-Control", "no-cache")
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	if !s.mine(r.Host) { // RFC 9110, section 7.4 and 15.5.20
		http.Error(w, "This preview answers to 127.0.0.1, [::1] and localhost with its own port only.", http.StatusMisdirectedRequest)
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		h.Set("Allow", "GET, HEAD")
		http.Error(w, "This preview only shows; it takes GET and HEAD.", http.StatusMethodNotAllowed)
		return
	}
	name := strings.TrimPrefix(r.URL.Path, "/")
	if name == "changes" {
		s.changes(w, r)
		return
	}
	if name == "" || strings.HasSuffix(name, "/") {
		name += "index.html"
	}
	if !fs.ValidPath(name) || strings.ContainsAny(name, "\\\x00") || len(name) > 1024 {
		http.Error(w, "There is no such page.", http.StatusNotFound)
		return
	}
	watch := s.state.token() // before the page is made: a change meanwhile makes it old
	if path.Ext(name) != ".html" {
		watch = ""
	}
	status := http.StatusOK
	p, err := s.site.Page(r.Context(), name, watch)
	if err != nil {
		if status = http.StatusInternalServerError; errors.Is(err, site.ErrNoPage) {
			status = http.StatusNotFound
		}
		if path.Ext(name) == ".html" {
			p, err = s.site.Trouble(r.Context(), name, watch, err)
		}
	}
	if err != nil {
		http.Error(w, err.Error(), status)
		return
	}
	h.Set("Content-Type", p.Type)
	h.Set("Content-Security-Policy", p.Policy+"; frame-ancestors 'none'")
	sum := sha256.Sum256(p.Data)
	tag := `"` + hex.EncodeToString(sum[:16]) + `"`
	if status == http.StatusOK {
		h.Set("ETag", tag)
		if match := r.Header.Get("If-None-Match"); match != "" && strings.Contains(match, tag) {
			w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	h.Set("Content-Length", strconv.Itoa(len(p.Data)))
	w.WriteHeader(status)
	if r.Method == http.MethodGet {
		_, _ = w.Write(p.Data) // a browser that went away is no failure
	}
}

// mine reports whether a Host header names this server.
func (s *Server) mine(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		return false
	}
	n, err := strconv.Atoi(port)
	if err != nil || strconv.Itoa(n) != port || !slices.Contains(s.ports, n) {
		return false
	}
	return name == "127.0.0.1" || name == "::1" || strings.EqualFold(name, "localhost")
}

// changes holds a connection open until the page that asks is out of date (server-sent events, HTML Standard 9.2).
func (s *Server) changes(w http.ResponseWriter, r *http.Request) {
	if s.open.Add(1) > maxWatching {
		s.open.Add(-1)
		w.Header().Set("Retry-After", "10")
		http.Error(w, "Too many pages wait for changes; close some.", http.StatusServiceUnavailable)
		return
	}
	defer s.open.Add(-1)
	page, since := r.URL.Query().Get("page"), r.URL.Query().Get("since")
	out := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	w.WriteHeader(http.StatusOK)
	say := func(text string) bool {
		_ = out.SetWriteDeadline(time.Now().Add(2 * beat))
		if _, err := w.Write([]byte(text)); err != nil {
			return false
		}
		return out.Flush() == nil
	}
	if r.Method == http.MethodHead || !say("retry: 1000\n\n") {
		return
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for {
		old, wake := s.state.old(page, since)
		if old {
			say("event: reload\ndata: " + s.state.token() + "\n\n")
			return
		}
		select {
		case <-wake:
		case <-tick.C:
			if !say(": still here\n\n") {
				return
			}
		case <-r.Context().Done():
			return
		case <-s.done:
			return
		}
	}
}
