package threemf

import "io"

// readAhead unpacks on a goroutine of its own, a few blocks ahead of the reader: unpacking costs about
// as much as reading the XML.
type readAhead struct {
	full, empty chan block
	quit        chan struct{}
	done        chan struct{}
	rest        []byte
	present     block
	err         error
}

type block struct {
	data []byte
	err  error
}

// blockSize is a few times what one Read of the unpacker gives. Measured: no difference from 64 KiB to 1 MiB.
const blockSize = 128 << 10

func newReadAhead(r io.Reader) *readAhead {
	a := &readAhead{
		full: make(chan block, 4), empty: make(chan block, 4),
		quit: make(chan struct{}), done: make(chan struct{}),
	}
	go a.run(r)
	return a
}

func (a *readAhead) run(r io.Reader) {
	defer close(a.done)
	made := 0
	for {
		var b block
		if made < cap(a.empty) {
			b.data = make([]byte, blockSize)
			made++
		} else {
			select {
			case b = <-a.empty:
			case <-a.quit:
				return
			}
		}
		b.data = b.data[:cap(b.data)]
		n := 0
		for n < len(b.data) && b.err == nil {
			var got int
			got, b.err = r.Read(b.data[n:])
			n += got
		}
		b.data = b.data[:n]
		select {
		case a.full <- b:
		case <-a.quit:
			return
		}
		if b.err != nil {
			return
		}
	}
}

// Read gives what is unpacked, in order, then the error of the reader behind it.
func (a *readAhead) Read(p []byte) (int, error) {
	for len(a.rest) == 0 {
		if a.err != nil {
			return 0, a.err
		}
		if a.present.data != nil {
			a.empty <- block{data: a.present.data}
		}
		a.present = <-a.full
		a.rest, a.err = a.present.data, a.present.err
	}
	n := copy(p, a.rest)
	a.rest = a.rest[n:]
	return n, nil
}

// stop ends the goroutine and waits for it; the reader behind may be closed after that.
func (a *readAhead) stop() {
	close(a.quit)
	<-a.done
}
