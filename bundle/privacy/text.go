package privacy

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"
)

// pattern finds one kind of tell-tale text: where needle stands at i in b, match says from where to
// where the text goes, or false. Needles are looked for with bytes.Index, so that the millions of
// numbers in a mesh cost next to nothing; a regular expression over them all took 20 times as long.
type pattern struct {
	needle string
	kind   Kind
	what   string
	match  func(b []byte, i int) (from, to int, ok bool)
}

var patterns = []pattern{
	{`:\`, Path, "path on a Windows machine", drive},
	{":/", Path, "path on a Windows machine", drive},
	{`\\`, Path, "path on a Windows network", unc},
	{"/home/", Path, "path of a home folder", unixPath},
	{"/Users/", Path, "path of a home folder", unixPath},
	{"/root/", Path, "path of a home folder", unixPath},
	{"/var/folders/", Path, "path on a Mac", unixPath},
	{"/media/", Path, "path of a drive", unixPath},
	{"/Volumes/", Path, "path of a drive", unixPath},
	{"/mnt/", Path, "path of a drive", unixPath},
	{"file://", Path, "address of a local file", fileURL},
	{"@", Email, "e-mail address", email},
	// Private ranges of RFC 1918, and the link-local one of RFC 3927.
	{"192.168.", Address, "private network address", ip},
	{"10.", Address, "private network address", ip},
	{"172.", Address, "private network address", ip},
	{"169.254.", Address, "private network address", ip},
	{".local", Address, "host name of a private network", localHost}, // RFC 6762
}

const (
	window  = 1 << 20 // bytes looked at a time
	overlap = 1 << 10 // longest text found across two windows
)

// text looks through any bytes for tell-tale texts.
func (f *finder) text(where string, r io.Reader) error {
	buf := make([]byte, 0, window)
	for first := true; ; first = false {
		n, err := io.ReadFull(r, buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		end := errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
		if err != nil && !end {
			return err
		}
		f.matchPart(where, buf, first, end)
		if end {
			return nil
		}
		// What begins in the overlap is seen again, with what follows, and told once because it is
		// the same leak.
		buf = append(buf[:0], buf[len(buf)-overlap:]...)
	}
}

func (f *finder) match(where string, b []byte) { f.matchPart(where, b, true, true) }

// matchPart looks through a part of a longer text. What touches an end where the text goes on is
// left to the part that holds it whole: no match is as long as the overlap.
func (f *finder) matchPart(where string, b []byte, first, last bool) {
	for _, p := range patterns {
		needle := []byte(p.needle)
		for at := 0; ; {
			i := bytes.Index(b[at:], needle)
			if i < 0 {
				break
			}
			i += at
			at = i + 1
			from, to, ok := p.match(b, i)
			if !ok || (from == 0 && !first) || (to == len(b) && !last) || !utf8.Valid(b[from:to]) {
				continue
			}
			f.add(p.kind, where, p.what, string(b[from:to]))
			at = max(at, to)
		}
	}
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isWord(c byte) bool   { return isLetter(c) || isDigit(c) || c == '_' || c >= 0x80 }

// before is the byte before i, a space at the start.
func before(b []byte, i int) byte {
	if i == 0 {
		return ' '
	}
	return b[i-1]
}

// pathEnd goes on to the end of a path: a quote, bracket, control, or two things that names in
// paths do not have.
func pathEnd(b []byte, i int) int {
	limit := min(len(b), i+300)
	for i < limit && b[i] >= ' ' && b[i] != 0x7f && !bytes.ContainsRune([]byte(`"'<>|*?,;)]}`), rune(b[i])) {
		i++
	}
	return i
}

// drive matches C:\x and C:/x but not https://x or a time.
func drive(b []byte, i int) (int, int, bool) {
	if i == 0 || !isLetter(b[i-1]) || isWord(before(b, i-1)) || i+2 >= len(b) {
		return 0, 0, false
	}
	end := i + 2
	for end < len(b) && b[end] == '\\' { // C:\\x, escaped
		end++
	}
	if b[i+1] == '/' && b[i+2] == '/' || end >= len(b) || !isWord(b[end]) {
		return 0, 0, false
	}
	end = pathEnd(b, end)
	return i - 1, end, end > i+4
}

// unc matches \\server\share.
func unc(b []byte, i int) (int, int, bool) {
	if c := before(b, i); isWord(c) || c == '\\' || c == ':' || c == '.' {
		return 0, 0, false
	}
	j := i + 2
	for j < len(b) && (isWord(b[j]) || b[j] == '-' || b[j] == '.') {
		j++
	}
	if j == i+2 || j+1 >= len(b) || b[j] != '\\' || !(isWord(b[j+1]) || b[j+1] == '\\') {
		return 0, 0, false
	}
	return i, pathEnd(b, j), true
}

// unixPath matches /home/x but not example.com/home/x or ../home/x.
func unixPath(b []byte, i int) (int, int, bool) {
	if c := before(b, i); isWord(c) || c == '.' || c == '-' || c == '~' || c == '}' || c == ')' {
		return 0, 0, false
	}
	j := i + bytes.IndexByte(b[i+1:], '/') + 2
	if j >= len(b) || !isWord(b[j]) {
		return 0, 0, false
	}
	return i, pathEnd(b, j), true
}

func fileURL(b []byte, i int) (int, int, bool) {
	end := pathEnd(b, i)
	return i, end, !isWord(before(b, i)) && end > i+len("file:///")
}

// email matches an address as people write it, not the whole of RFC 5322.
func email(b []byte, i int) (int, int, bool) {
	from, to := i, i+1
	for from > 0 && i-from < 64 && (isLetter(b[from-1]) || isDigit(b[from-1]) || bytes.IndexByte([]byte("._%+-"), b[from-1]) >= 0) {
		from--
	}
	dot := -1
	for to < len(b) && to-i < 255 && (isLetter(b[to]) || isDigit(b[to]) || b[to] == '-' || b[to] == '.') {
		if b[to] == '.' {
			dot = to
		}
		to++
	}
	if to > 0 && dot == to-1 { // the full stop of a sentence
		to = dot
		dot = bytes.LastIndexByte(b[:to], '.')
	}
	if from == i || dot < i+2 || to-dot < 3 {
		return 0, 0, false
	}
	for _, c := range b[dot+1 : to] {
		if !isLetter(c) {
			return 0, 0, false
		}
	}
	// photo@2x.png is a picture for dense screens.
	if b[i+2] == 'x' && isDigit(b[i+1]) && dot == i+3 {
		return 0, 0, false
	}
	return from, to, true
}

// ip matches four numbers to 255 of a private range.
func ip(b []byte, i int) (int, int, bool) {
	if c := before(b, i); isWord(c) || c == '.' || c == '-' {
		return 0, 0, false
	}
	var part [4]int
	j := i
	for k := range part {
		if k > 0 {
			if j >= len(b) || b[j] != '.' {
				return 0, 0, false
			}
			j++
		}
		start := j
		for j < len(b) && isDigit(b[j]) && j-start < 3 {
			part[k] = 10*part[k] + int(b[j]-'0')
			j++
		}
		if j == start || part[k] > 255 {
			return 0, 0, false
		}
	}
	if j < len(b) && (isWord(b[j]) || b[j] == '.' && j+1 < len(b) && isDigit(b[j+1])) {
		return 0, 0, false
	}
	if part[0] == 172 && (part[1] < 16 || part[1] > 31) {
		return 0, 0, false
	}
	return i, j, true
}

// localHost matches printer.local.
func localHost(b []byte, i int) (int, int, bool) {
	from, to := i, i+len(".local")
	for from > 0 && i-from < 63 && (isLetter(b[from-1]) || isDigit(b[from-1]) || b[from-1] == '-') {
		from--
	}
	if from == i || before(b, from) == '.' && isWord(before(b, from-1)) {
		return 0, 0, false
	}
	if to < len(b) && (isWord(b[to]) || b[to] == '-' || b[to] == '(' || b[to] == '.' && to+1 < len(b) && isWord(b[to+1])) {
		return 0, 0, false
	}
	return from, to, true
}
