package main

import (
	"bytes"
	"strings"
	"sync"
	"testing"
	"time"
)

// shared is a buffer that a ticking line and a test write to and read from.
type shared struct {
	lock sync.Mutex
	b    bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.lock.Lock()
	defer s.lock.Unlock()
	return s.b.Write(p)
}

func (s *shared) String() string {
	s.lock.Lock()
	defer s.lock.Unlock()
	return s.b.String()
}

func TestALongPieceOfWorkKeepsItsLineMoving(t *testing.T) {
	var lock sync.Mutex
	clock := time.Date(2027, 1, 8, 9, 0, 0, 0, time.UTC)
	now := func() time.Time { // each look at the clock is 0.4 s later
		lock.Lock()
		defer lock.Unlock()
		clock = clock.Add(400 * time.Millisecond)
		return clock
	}
	said := &shared{}
	u := &ui{err: said, progress: true, width: 100, now: now}
	b := u.busy(2)
	b.at("big.stl", "reading")
	b.at("big.stl", "looking for holes")
	for range 100 { // the line is redrawn with nothing told
		if strings.Contains(said.String(), "0 of 2 done; big.stl: looking for holes, 2 s") {
			break
		}
		time.Sleep(busyTick / 5)
	}
	b.end("big.stl")
	b.at("small.stl", "reading")
	b.stop()
	b.stop()
	for _, want := range []string{"0 of 2 done; big.stl: reading", "0 of 2 done; big.stl: looking for holes, 2 s", "1 of 2 done; small.stl: reading"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("never said %q:\n%q", want, said.String())
		}
	}
	if !strings.HasSuffix(said.String(), "\r\x1b[K") {
		t.Errorf("the line is not wiped: %q", said.String())
	}
	after := said.String()
	time.Sleep(2 * busyTick)
	if said.String() != after {
		t.Error("the line moves after the work has ended")
	}
}

func TestNoProgressSaysNothing(t *testing.T) {
	said := &shared{}
	u := &ui{err: said, width: 100, now: time.Now}
	b := u.busy(1)
	b.at("big.stl", "reading")
	b.end("big.stl")
	b.stop()
	if said.String() != "" {
		t.Errorf("said %q", said.String())
	}
}
