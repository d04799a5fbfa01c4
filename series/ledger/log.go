package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	"dropwright/series/disk"
)

// Limits on what is read: a season of 520 weeks with 50 files a drop stays below a tenth of the first.
const (
	maxFile = 64 << 20 // bytes
	maxLine = 1 << 20  // bytes
)

var genesis = strings.Repeat("0", 64)

// Damage is a ledger whose chain is broken other than by a torn last line.
type Damage struct {
	Path string
	Line int // from 1
	Why  string
}

func (d *Damage) Error() string {
	return fmt.Sprintf("ledger %q is damaged in line %d: %s; nothing is released until it is restored from a backup, from git or from the copy that the targets' index names", d.Path, d.Line, d.Why)
}

// Newer is a ledger written by a later version of this program.
type Newer struct {
	Path string
	Line int
	Why  string
}

func (n *Newer) Error() string {
	return fmt.Sprintf("ledger %q line %d comes from a newer dropwright (%s): use that version", n.Path, n.Line, n.Why)
}

// Head names the last line. The zero value is an empty ledger's.
type Head struct {
	Seq int    `json:"seq"`
	Sum string `json:"sum"`
}

// Entry is one line.
type Entry struct {
	Seq int
	Sum string
	Record
}

// Log is a ledger as read. Its methods do not change it.
type Log struct {
	Path    string
	Entries []Entry
	// Torn is the tail that a crash left, empty for a clean file.
	Torn []byte
	size int64 // bytes of whole lines
}

// Read reads and verifies a ledger without locking or repairing it. A missing file is an empty ledger.
// Errors: [*Damage], [*Newer], or the file system's.
func Read(d disk.FS, path string) (*Log, error) {
	data, err := disk.ReadFile(d, path, maxFile)
	if errors.Is(err, fs.ErrNotExist) {
		return &Log{Path: path}, nil
	} else if err != nil {
		return nil, fmt.Errorf("reading the ledger: %w", err)
	}
	return Parse(path, data)
}

// Parse verifies the bytes of a ledger. The path is only for messages.
func Parse(path string, data []byte) (*Log, error) {
	l := &Log{Path: path}
	for number := 1; len(data) > 0; number++ {
		line, rest, whole := bytes.Cut(data, []byte("\n"))
		if !whole {
			return l, l.tear(data, number)
		}
		e, shaped, err := decode(line, l.Head())
		var newer *Newer
		switch {
		case errors.As(err, &newer):
			newer.Path, newer.Line = path, number
			return nil, newer
		case err != nil && !shaped && len(rest) == 0:
			return l, l.tear(data, number)
		case err != nil:
			return nil, &Damage{path, number, err.Error()}
		}
		l.Entries = append(l.Entries, e)
		l.size += int64(len(line)) + 1
		data = rest
	}
	return l, nil
}

// tear takes the tail for what a crash left of the last write. It is more than that, and damage, if a
// record begins later in it: then a line end in between was lost, and what stands before it had been
// acknowledged. Inside a record the mark cannot occur, because JSON escapes quotes in texts.
func (l *Log) tear(tail []byte, number int) error {
	if bytes.LastIndex(tail, []byte(`{"seq":`)) > 0 {
		return &Damage{l.Path, number, "two records stand in one line"}
	}
	l.Torn = tail
	return nil
}

// Head names the last whole line.
func (l *Log) Head() Head {
	if len(l.Entries) == 0 {
		return Head{}
	}
	last := l.Entries[len(l.Entries)-1]
	return Head{last.Seq, last.Sum}
}

// Has says whether the ledger holds the line that a head names: it does not if it was restored from an
// older copy, or is another's.
func (l *Log) Has(h Head) bool {
	e, ok := l.Entry(h.Seq)
	return h == Head{} || ok && e.Sum == h.Sum
}

// Entry gives a line by its number.
func (l *Log) Entry(seq int) (Entry, bool) {
	if seq < 1 || seq > len(l.Entries) {
		return Entry{}, false
	}
	return l.Entries[seq-1], true
}

type line struct {
	Seq  int             `json:"seq"`
	Prev string          `json:"prev"`
	Sum  string          `json:"sum"`
	Body json.RawMessage `json:"body"`
}

func (l line) sum() string {
	h := sha256.New()
	fmt.Fprintf(h, "%d\n%s\n", l.Seq, l.Prev)
	h.Write(l.Body)
	return hex.EncodeToString(h.Sum(nil))
}

// bytes writes the line without its "\n", in the one way that is accepted.
func (l line) bytes() []byte {
	return fmt.Appendf(nil, `{"seq":%d,"prev":"%s","sum":"%s","body":%s}`, l.Seq, l.Prev, l.Sum, l.Body)
}

// next is the line that would follow head with a record.
func next(h Head, r Record) (line, error) {
	r.At, r.Due, r.When = whole(r.At), whole(r.Due), whole(r.When)
	r.Dates = slices.Clone(r.Dates)
	for i := range r.Dates {
		r.Dates[i].UTC = whole(r.Dates[i].UTC)
	}
	if err := r.check(); err != nil {
		return line{}, err
	}
	if (r.Kind == Opened) != (h.Seq == 0) {
		return line{}, fmt.Errorf("a record of kind %q as line %d", r.Kind, h.Seq+1)
	}
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(r); err != nil {
		return line{}, err
	}
	l := line{Seq: h.Seq + 1, Prev: h.Sum, Body: bytes.TrimSpace(body.Bytes())}
	if h.Seq == 0 {
		l.Prev = genesis
	}
	l.Sum = l.sum()
	if len(l.bytes()) > maxLine {
		return line{}, fmt.Errorf("a record of %d bytes: at most %d are possible", len(l.bytes()), maxLine)
	}
	return l, nil
}

func whole(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Second)
}

// decode reads the line after head. shaped says whether it is a JSON object of a line's shape at all: a
// last line that is not was torn.
func decode(text []byte, h Head) (e Entry, shaped bool, err error) {
	if len(text) > maxLine {
		return e, true, fmt.Errorf("it is longer than %d bytes", maxLine)
	}
	if bytes.HasSuffix(text, []byte("\r")) {
		return e, true, fmt.Errorf("its line end was changed to CRLF, by an editor or by git: write \"ledger*.jsonl -text\" into .gitattributes and fetch the file again")
	}
	var l line
	if err := strict(text, &l); err != nil {
		return e, false, fmt.Errorf("it is no line of a ledger: %w", err)
	}
	prev := h.Sum
	if h.Seq == 0 {
		prev = genesis
	}
	switch {
	case l.Seq != h.Seq+1:
		return e, true, fmt.Errorf("it has number %d after %d", l.Seq, h.Seq)
	case l.Prev != prev:
		return e, true, fmt.Errorf("it does not follow the line before it")
	case l.Sum != l.sum():
		return e, true, fmt.Errorf("its content does not match its sum")
	case !bytes.Equal(text, l.bytes()):
		return e, true, fmt.Errorf("it is not written as the format demands")
	}
	// From here on the line is what some version wrote: what is not understood is newer.
	var r Record
	if err := strict(l.Body, &r); err != nil {
		return e, true, &Newer{Why: err.Error()}
	}
	if err := r.check(); err != nil {
		return e, true, &Newer{Why: err.Error()}
	}
	if (r.Kind == Opened) != (l.Seq == 1) {
		return e, true, fmt.Errorf("a record of kind %q", r.Kind)
	}
	if r.Format > Version {
		return e, true, &Newer{Why: fmt.Sprintf("format %d", r.Format)}
	}
	return Entry{l.Seq, l.Sum, r}, true, nil
}

func strict(text []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return err
	}
	if _, err := dec.Token(); err != io.EOF {
		return fmt.Errorf("text after the object")
	}
	return nil
}
