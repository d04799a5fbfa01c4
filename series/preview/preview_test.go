package preview

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"dropwright/series/site"
)

// fake is a site that notes what it was asked for.
type fake struct {
	lock  sync.Mutex
	asked []string
}

func (f *fake) Page(_ context.Context, name, watch string) (site.Page, error) {
	f.lock.Lock()
	f.asked = append(f.asked, name)
	f.lock.Unlock()
	switch name {
	case "index.html", "designs/hook/index.html", "desk.css":
		return site.Page{Path: name, Type: site.TypeOf(name), Policy: site.PagePolicy, Data: []byte("shown " + name + " " + watch)}, nil
	case "broken.html":
		return site.Page{}, fmt.Errorf("the disk is gone")
	}
	return site.Page{}, site.ErrNoPage
}

func (f *fake) Trouble(_ context.Context, name, watch string, err error) (site.Page, error) {
	return site.Page{Path: name, Type: "text/html; charset=utf-8", Policy: site.PagePolicy, Data: []byte("trouble: " + err.Error() + " " + watch)}, nil
}

// serving starts a server and gives its address.
func serving(t *testing.T) (*Server, *fake, string) {
	t.Helper()
	l, port, _, err := Listen(0)
	if err != nil {
		t.Fatal(err)
	}
	f := &fake{}
	s := New(f)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Errorf("serving ended with %v", err)
		}
	})
	base := fmt.Sprintf("http://127.0.0.1:%d", port)
	for range 100 { // until it answers
		if r, err := http.Get(base + "/"); err == nil {
			r.Body.Close()
			return s, f, base
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("the server does not answer")
	return nil, nil, ""
}

func ask(t *testing.T, method, address string, set func(*http.Request)) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequest(method, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	if set != nil {
		set(r)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(body)
}

// TestHosts: only names of loopback with the server's own port (DNS rebinding).
func TestHosts(t *testing.T) {
	_, _, base := serving(t)
	port := base[strings.LastIndex(base, ":")+1:]
	for host, want := range map[string]int{
		"127.0.0.1:" + port: 200, "localhost:" + port: 200, "LOCALHOST:" + port: 200, "[::1]:" + port: 200,
		"127.0.0.1": 421, "localhost:80": 421, "workshop.example:" + port: 421, "127.0.0.1.workshop.example:" + port: 421, "localhost.:" + port: 421,
		"127.0.0.2:" + port: 421, "[::]:" + port: 421, "0.0.0.0:" + port: 421, "127.0.0.1:0" + port: 421, "user@127.0.0.1:" + port: 421,
	} {
		resp, _ := ask(t, "GET", base+"/", func(r *http.Request) { r.Host = host })
		if resp.StatusCode != want && !(want == 421 && resp.StatusCode == 400) { // net/http itself refuses malformed ones
			t.Errorf("Host %s: %d, expected %d", host, resp.StatusCode, want)
		}
	}
}

func TestAnswers(t *testing.T) {
	_, f, base := serving(t)
	for _, x := range []struct {
		method, path string
		status       int
	}{
		{"GET", "/", 200}, {"HEAD", "/", 200}, {"GET", "/designs/hook/", 200}, {"GET", "/designs/hook/index.html", 200}, {"GET", "/desk.css", 200},
		{"POST", "/", 405}, {"PUT", "/desk.css", 405}, {"DELETE", "/designs/hook/", 405}, {"OPTIONS", "/", 405},
		{"GET", "/nothing.html", 404}, {"GET", "/nothing.png", 404}, {"GET", "/broken.html", 500},
		{"GET", "/../series.yaml", 404}, {"GET", "/designs/../../etc/passwd", 404}, {"GET", "/designs/%2e%2e/%2e%2e/etc/passwd", 404}, {"GET", "/designs/..%2f..%2fetc/passwd", 404},
		{"GET", "/designs\\..\\..\\x", 404}, {"GET", "/a%00b", 404}, {"GET", "/./index.html", 404}, {"GET", "/" + strings.Repeat("a", 2000), 404},
	} {
		resp, body := ask(t, x.method, base+"/", func(r *http.Request) { r.URL.Opaque = x.path })
		if resp.StatusCode != x.status {
			t.Errorf("%s %s: %d, expected %d: %s", x.method, x.path, resp.StatusCode, x.status, body)
		}
		if !strings.Contains(resp.Header.Get("Content-Security-Policy"), "default-src 'none'") || !strings.Contains(resp.Header.Get("Content-Security-Policy"), "frame-ancestors 'none'") ||
			resp.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s %s: headers %v", x.method, x.path, resp.Header)
		}
		if x.method == "HEAD" && body != "" {
			t.Errorf("HEAD has a body: %q", body)
		}
		if x.status == 405 && resp.Header.Get("Allow") != "GET, HEAD" {
			t.Errorf("405 says nothing of what is allowed (RFC 9110, section 15.5.6)")
		}
	}
	for _, name := range f.asked {
		if !fs.ValidPath(name) {
			t.Errorf("the site was asked for %q", name)
		}
	}
	resp, _ := ask(t, "GET", base+"/desk.css", nil)
	again, _ := ask(t, "GET", base+"/desk.css", func(r *http.Request) { r.Header.Set("If-None-Match", resp.Header.Get("ETag")) })
	if again.StatusCode != http.StatusNotModified {
		t.Errorf("the same bytes are sent again: %d", again.StatusCode)
	}
	other, _ := ask(t, "GET", base+"/", func(r *http.Request) { r.Header.Set("If-None-Match", resp.Header.Get("ETag")) })
	if other.StatusCode != http.StatusOK {
		t.Errorf("another page's tag answers %d", other.StatusCode)
	}
}

// FuzzPaths: whatever is asked for, the site gets a path that leads nowhere else, and the answer is no failure.
func FuzzPaths(f *testing.F) {
	for _, s := range []string{"/", "/designs/hook/", "/../x", "/%2e%2e/x", "/a//b", "/changes?page=x&since=y", "/\x00", "/designs/hook/pictures/../../../series.yaml"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, p string) {
		site := &fake{}
		s := New(site)
		s.ports = []int{4330}
		close(s.done)
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = "127.0.0.1:4330"
		r.URL.Path = p
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		if w.Code >= 500 && p != "/broken.html" {
			t.Errorf("%q: %d", p, w.Code)
		}
		for _, name := range site.asked {
			if !fs.ValidPath(name) || strings.Contains(name, "\\") {
				t.Errorf("%q asks the site for %q", p, name)
			}
		}
	})
}

// event waits for the next event of a connection, "" when none comes.
func event(t *testing.T, address string, wait time.Duration) string {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), wait)
	defer stop()
	r, err := http.NewRequestWithContext(ctx, "GET", address, nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if got := resp.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Errorf("content type %q", got)
	}
	lines := bufio.NewScanner(resp.Body)
	for lines.Scan() {
		if name, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
			return name
		}
	}
	return ""
}

// TestChanges: a page hears of what it was made from, and of nothing else; a page of an earlier server, or one that was
// printed before the change, hears at once.
func TestChanges(t *testing.T) {
	s, _, base := serving(t)
	token := func() string {
		_, body := ask(t, "GET", base+"/", nil)
		return strings.Fields(body)[2]
	}
	hears := func(page, since string, touch ...string) bool {
		if touch != nil {
			time.AfterFunc(50*time.Millisecond, func() { s.Touch(touch...) })
		}
		return event(t, base+"/changes?page="+page+"&since="+since, 400*time.Millisecond) == "reload"
	}
	const hook, season, boards = "designs/hook/index.html", "index.html", "boards/pc104.html"
	for _, x := range []struct {
		page  string
		touch string
		want  bool
	}{{hook, "hook", true}, {hook, "stake", false}, {hook, Everything, true}, {season, "hook", true}, {season, Everything, true}, {boards, "stake", true}} {
		if got := hears(x.page, token(), x.touch); got != x.want {
			t.Errorf("%s after a change of %q: %v, expected %v", x.page, x.touch, got, x.want)
		}
	}
	before := token()
	s.Touch("hook")
	if !hears(hook, before) {
		t.Error("a change between printing and asking is lost")
	}
	if hears(hook, token()) {
		t.Error("a fresh page reloads for nothing")
	}
	for _, old := range []string{"", "x", "0123456789ab.4", before + "0"} {
		if !hears(hook, old) {
			t.Errorf("a page of the state %q stays", old)
		}
	}
}

// TestCrowd: more tabs than anybody has do not hold the server up.
func TestCrowd(t *testing.T) {
	s, _, base := serving(t)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	for range maxWatching {
		r, _ := http.NewRequestWithContext(ctx, "GET", base+"/changes?page=index.html&since="+s.state.token(), nil)
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
	}
	resp, _ := ask(t, "GET", base+"/changes?page=index.html&since="+s.state.token(), nil)
	if resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("one more waits: %d", resp.StatusCode)
	}
	if resp, _ := ask(t, "GET", base+"/", nil); resp.StatusCode != 200 {
		t.Errorf("a page: %d", resp.StatusCode)
	}
}

func TestListen(t *testing.T) {
	first, a, _, err := Listen(0)
	if err != nil {
		t.Fatal(err)
	}
	second, b, moved, err := Listen(0)
	if err != nil {
		t.Fatal(err)
	}
	if a == b || !moved {
		t.Errorf("two previews at %d and %d, moved %v", a, b, moved)
	}
	if _, _, _, err := Listen(a); err == nil {
		t.Errorf("port %d is given twice", a)
	}
	for _, l := range append(first, second...) {
		if !l.Addr().(*net.TCPAddr).IP.IsLoopback() {
			t.Errorf("%s is not loopback", l.Addr())
		}
		l.Close()
	}
	open, err := net.Listen("tcp4", "0.0.0.0:0")
	if err != nil {
		t.Fatal(err)
	}
	defer open.Close()
	if err := New(&fake{}).Serve(t.Context(), []net.Listener{open}); err == nil {
		t.Error("it serves to everybody")
	}
}
