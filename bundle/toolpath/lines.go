package toolpath

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

const (
	// chunk is the read size: large enough that system calls do not count, small enough for the cache.
	chunk = 256 << 10
	// longest is the longest line accepted. Real lines are under 200 bytes; comments that carry
	// settings reach some ten thousand. A file without line ends must not fill the memory.
	longest = 1 << 20
)

// lineReader cuts a stream into lines without copying them. text is valid until the next call.
type lineReader struct {
	r      io.Reader
	buf    []byte
	start  int // of the unread part in buf
	end    int
	eof    bool
	number int    // of the line in text, from 1
	text   []byte // without its line end
	open   bool   // text has no line end: the file ends there
	err    error  // *LineError or what r said
}

func newLineReader(r io.Reader) *lineReader {
	return &lineReader{r: r, buf: make([]byte, chunk)}
}

// next finds the following line; false at the end or after an error.
func (l *lineReader) next() bool {
	if l.err != nil {
		return false
	}
	searched := l.start
	for {
		if i := bytes.IndexByte(l.buf[searched:l.end], '\n'); i >= 0 {
			l.take(searched+i, searched+i+1)
			return l.clean()
		}
		searched = l.end
		if l.eof {
			if l.start == l.end {
				return false
			}
			l.open = true
			l.take(l.end, l.end)
			return l.clean()
		}
		if l.end-l.start > longest {
			l.err = &LineError{Line: l.number + 1, Text: fmt.Sprintf("longer than %d bytes: not a G-code file", longest)}
			return false
		}
		searched -= l.fill()
		if l.err != nil {
			return false
		}
	}
}

// take makes buf[start:end] the present line and next the start of the following one.
func (l *lineReader) take(end, next int) {
	l.text = l.buf[l.start:end]
	if n := len(l.text); n > 0 && l.text[n-1] == '\r' {
		l.text = l.text[:n-1]
	}
	l.start = next
	l.number++
	if l.number == 1 {
		l.text = bytes.TrimPrefix(l.text, []byte("\xef\xbb\xbf"))
	}
}

// clean refuses what only a binary file holds, in comments too.
func (l *lineReader) clean() bool {
	if bytes.IndexByte(l.text, 0) >= 0 {
		l.err = &LineError{Line: l.number, Text: "holds a zero byte: not a text file; export plain-text G-code"}
		return false
	}
	return true
}

// fill reads on and returns by how much the unread part moved toward the front.
func (l *lineReader) fill() int {
	moved := 0
	if l.start > 0 {
		moved = l.start
		l.end = copy(l.buf, l.buf[l.start:l.end])
		l.start = 0
	} else if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for range 100 { // as bufio does: a reader that gives nothing without an error is broken
		n, err := l.r.Read(l.buf[l.end:])
		l.end += n
		if errors.Is(err, io.EOF) {
			l.eof = true
			return moved
		}
		if err != nil {
			l.err = err
			return moved
		}
		if n > 0 {
			return moved
		}
	}
	l.err = io.ErrNoProgress
	return moved
}
