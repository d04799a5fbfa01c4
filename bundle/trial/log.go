package trial

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
)

const (
	// longestLine bounds a record; a usual one has 600 bytes.
	longestLine = 64 << 10
	// mostRecords bounds the log: a hundred prints a day for twenty years.
	mostRecords = 1 << 20
)

// LineError is a line of the log that is not a record.
type LineError struct {
	Line int // from 1
	Text string
}

// Error returns the line and the text.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Text) }

// Append writes the record as one line in one call of w.Write, so that a file opened for appending
// gets it whole.
func Append(w io.Writer, r Record) error {
	if err := r.valid(); err != nil {
		return fmt.Errorf("trial of %q: %w", r.Part, err)
	}
	b, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("trial of %q: %w", r.Part, err)
	}
	if len(b) >= longestLine {
		return fmt.Errorf("trial of %q: %d bytes are too long for one line of the log", r.Part, len(b))
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// Read returns the records of a log, oldest first. Empty lines are skipped; keys that it does not know
// are ignored, as a newer version may have written them. A line that is no record is a *LineError, and
// the records before it are returned with it.
func Read(r io.Reader) ([]Record, error) {
	var log []Record
	in := bufio.NewReaderSize(r, longestLine)
	for n := 1; ; n++ {
		line, err := in.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			return log, &LineError{n, "longer than a record can be; is this the trial log?"}
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return log, err
		}
		if text := bytes.TrimSpace(line); len(text) > 0 {
			var rec Record
			if e := json.Unmarshal(text, &rec); e != nil {
				return log, &LineError{n, "not a record: " + e.Error() + "; correct or remove the line"}
			}
			if e := rec.valid(); e != nil {
				return log, &LineError{n, e.Error() + "; correct or remove the line"}
			}
			if len(log) == mostRecords {
				return log, &LineError{n, fmt.Sprintf("more than %d records", mostRecords)}
			}
			log = append(log, rec)
		}
		if err != nil {
			return log, nil
		}
	}
}

// valid checks what calculations rely on.
func (r *Record) valid() error {
	for _, v := range []struct {
		name string
		x    float64
		most float64
	}{{"grams", r.Grams, mostGrams}, {"booked_grams", r.Booked, mostGrams}, {"seconds", r.Seconds, mostSeconds}} {
		if math.IsNaN(v.x) || v.x < 0 || v.x > v.most {
			return fmt.Errorf("%s %g is out of range", v.name, v.x)
		}
	}
	if r.Copies < 0 || r.Copies > mostCopies {
		return fmt.Errorf("%d copies are out of range", r.Copies)
	}
	if r.Outcome != "" && r.Outcome != OK && r.Outcome != Failed {
		return fmt.Errorf("outcome %q is neither %q nor %q", r.Outcome, OK, Failed)
	}
	for _, h := range r.Holes {
		if !(h.Drawn >= leastHole && h.Drawn <= mostHole && h.Measured > 0 && math.Abs(h.Drawn-h.Measured) <= mostOff) {
			return fmt.Errorf("hole drawn %g, measured %g is out of range", h.Drawn, h.Measured)
		}
	}
	if m := r.Model; m != nil && !(m.Grams >= 0 && m.Seconds >= 0 && m.Grams < 1e9 && m.Seconds < 1e9) {
		return fmt.Errorf("model of %g g, %g s is out of range", m.Grams, m.Seconds)
	}
	return nil
}
