package preview

import (
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// Everything is the area of a change that concerns every page.
const Everything = ""

// state counts changes by area: the name of a design, or Everything.
type state struct {
	run  string // of this server, so that a page of an earlier one knows that it is old
	lock sync.Mutex
	n    int
	at   map[string]int
	wake chan struct{} // closed at the next change
}

func newState() *state {
	var b [6]byte
	_, _ = rand.Read(b[:]) // never fails (crypto/rand, since Go 1.24)
	return &state{run: hex.EncodeToString(b[:]), at: map[string]int{}, wake: make(chan struct{})}
}

// token names the present state.
func (s *state) token() string {
	s.lock.Lock()
	defer s.lock.Unlock()
	return fmt.Sprintf("%s.%d", s.run, s.n)
}

// touch notes a change and wakes who waits.
func (s *state) touch(areas ...string) {
	s.lock.Lock()
	defer s.lock.Unlock()
	if len(areas) == 0 {
		return
	}
	s.n++
	for _, a := range areas {
		s.at[a] = s.n
	}
	close(s.wake)
	s.wake = make(chan struct{})
}

// old reports whether a page that was printed at a state is out of date; wake is closed at the next change.
func (s *state) old(page, token string) (old bool, wake <-chan struct{}) {
	s.lock.Lock()
	defer s.lock.Unlock()
	run, count, _ := strings.Cut(token, ".")
	n, err := strconv.Atoi(count)
	if run != s.run || err != nil || n > s.n {
		return true, s.wake
	}
	area, ok := areaOf(page)
	if !ok { // it shows all designs
		return s.n > n, s.wake
	}
	return s.at[Everything] > n || s.at[area] > n, s.wake
}

// areaOf is the design that a page is about; ok is false for pages about all of them.
func areaOf(page string) (design string, ok bool) {
	rest, ok := strings.CutPrefix(page, "designs/")
	if !ok {
		return "", false
	}
	design, _, ok = strings.Cut(rest, "/")
	return design, ok
}
