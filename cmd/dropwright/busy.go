package main

import (
	"fmt"
	"sync"
	"time"
)

// busy keeps the progress line moving while long pieces of work run side by side: how many are done, which one has
// been running the longest, what is being done with it, and after a second since when. A single large mesh takes
// many seconds, and a line that stands still looks like a program that hangs.
type busy struct {
	u     *ui
	total int
	ends  chan struct{}
	once  sync.Once
	ended sync.WaitGroup

	lock    sync.Mutex // of what follows and of the line: nothing else writes to stderr until stop
	done    int
	running []piece // in the order they began
}

type piece struct {
	name, stage string
	since       time.Time
}

// busyTick is how often the line is redrawn though nothing new is told.
const busyTick = 250 * time.Millisecond

// busy begins; stop must be called. Where no progress is shown it does nothing.
func (u *ui) busy(total int) *busy {
	b := &busy{u: u, total: total, ends: make(chan struct{})}
	if !u.progress {
		return b
	}
	b.ended.Go(func() {
		t := time.NewTicker(busyTick)
		defer t.Stop()
		for {
			select {
			case <-b.ends:
				return
			case <-t.C:
				b.lock.Lock()
				b.show()
				b.lock.Unlock()
			}
		}
	})
	return b
}

// at says that another piece of the work on a thing begins.
func (b *busy) at(name, stage string) {
	if !b.u.progress {
		return
	}
	b.lock.Lock()
	defer b.lock.Unlock()
	found := false
	for i := range b.running {
		if b.running[i].name == name {
			b.running[i].stage, found = stage, true
		}
	}
	if !found {
		b.running = append(b.running, piece{name, stage, b.u.now()})
	}
	b.show()
}

// end says that the work on a thing is done.
func (b *busy) end(name string) {
	b.lock.Lock()
	defer b.lock.Unlock()
	b.done++
	for i := range b.running {
		if b.running[i].name == name {
			b.running = append(b.running[:i], b.running[i+1:]...)
			break
		}
	}
	b.show()
}

// jobs says how many jobs are done, and that the one on this thing is.
func (b *busy) jobs(done, total int, name string) {
	b.lock.Lock()
	b.done, b.total = done-1, total
	b.lock.Unlock()
	b.end(name)
}

// stop ends the redrawing and wipes the line; results may be printed then. It may be called twice.
func (b *busy) stop() {
	b.once.Do(func() { close(b.ends) })
	b.ended.Wait()
	b.u.wipe()
}

// show draws the line; its callers hold the lock.
func (b *busy) show() { b.u.step("%s", b.line()) }

func (b *busy) line() string {
	text := ""
	if b.total > 1 {
		text = fmt.Sprintf("%d of %d done", b.done, b.total)
	}
	if len(b.running) == 0 {
		return text
	}
	p := b.running[0]
	if text != "" {
		text += "; "
	}
	text += p.name + ": " + p.stage
	if s := b.u.now().Sub(p.since); s >= time.Second {
		text += fmt.Sprintf(", %.0f s", s.Seconds())
	}
	return text
}
