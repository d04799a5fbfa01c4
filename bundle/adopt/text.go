package adopt

import (
	"fmt"
	"html"
	"io"
	"io/fs"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"dropwright/bundle/finding"
)

// text is one text file, decoded.
type text struct {
	file  string
	lines []string
	kind  kind
}

// at is the place of a line; column counts bytes from 1.
func (t *text) at(line, column int) finding.Place {
	return finding.Place{File: t.file, Line: line, Column: max(1, column)}
}

// readTexts reads the texts of a folder within the limits.
func readTexts(fsys fs.FS, l *listing) []*text {
	var out []*text
	var sum int64
	for _, f := range l.of(proseFile, tableFile, licenceFile) {
		if f.bytes > maxText {
			l.notes = append(l.notes, fmt.Sprintf("%s holds %d bytes and was not read; the limit for a text is %d", f.path, f.bytes, maxText))
			continue
		}
		if sum += f.bytes; len(out) >= maxTexts || sum > maxProse {
			l.notes = append(l.notes, fmt.Sprintf("more than %d texts or %d bytes of text: %s and what follows was not read", maxTexts, maxProse, f.path))
			break
		}
		data, err := readUpTo(fsys, f.path, maxText)
		if err != nil {
			l.notes = append(l.notes, fmt.Sprintf("%s could not be read", f.path))
			continue
		}
		body, ok := decodeText(data)
		if !ok {
			l.notes = append(l.notes, fmt.Sprintf("%s is no text, though its name says so", f.path))
			continue
		}
		out = append(out, &text{f.path, strings.Split(body, "\n"), f.kind})
	}
	return out
}

// readUpTo reads a file; one that is longer than the limit is an error, even if it grew since it was listed.
func readUpTo(fsys fs.FS, name string, limit int64) ([]byte, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, err
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("it holds more than %d bytes", limit)
	}
	return data, nil
}

// decodeText turns bytes into text with \n as line ends: UTF-8, UTF-16 with a byte order mark, and else
// Windows-1252, which every 8-bit text of a western spreadsheet is read as best (WHATWG Encoding, the table of
// windows-1252). ok is false for what is no text.
func decodeText(data []byte) (string, bool) {
	var s string
	switch {
	case len(data) >= 2 && data[0] == 0xFF && data[1] == 0xFE:
		s = utf16Text(data[2:], false)
	case len(data) >= 2 && data[0] == 0xFE && data[1] == 0xFF:
		s = utf16Text(data[2:], true)
	case utf8.Valid(data):
		s = strings.TrimPrefix(string(data), "\ufeff")
	default:
		var b strings.Builder
		for _, c := range data {
			if c >= 0x80 && c < 0xA0 {
				b.WriteRune(windows1252[c-0x80])
			} else {
				b.WriteRune(rune(c))
			}
		}
		s = b.String()
	}
	if strings.ContainsRune(s, 0) {
		return "", false
	}
	odd := 0
	for _, r := range s {
		if r < 32 && r != '\n' && r != '\r' && r != '\t' && r != '\f' {
			odd++
		}
	}
	if odd > len(s)/100 {
		return "", false
	}
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.ReplaceAll(s, "\u00a0", " "), true
}

func utf16Text(data []byte, big bool) string {
	u := make([]uint16, 0, len(data)/2)
	for i := 0; i+1 < len(data); i += 2 {
		a, b := uint16(data[i]), uint16(data[i+1])
		if big {
			a, b = b, a
		}
		u = append(u, a|b<<8)
	}
	return string(utf16.Decode(u))
}

// windows1252 is the signs of the bytes 0x80 to 0x9F.
var windows1252 = [32]rune{'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8D, 'Ž', 0x8F, 0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9D, 'ž', 'Ÿ'}

// badge is a picture that is a link: the small signs on top of readmes.
var badge = lazily(`\[!\[[^\]]*\]\([^)]*\)\]\([^)]*\)`)

// inline takes the marks of Markdown out of a piece of text: emphasis, code, links, pictures. Underscores stay,
// since file names hold them.
func inline(s string) string {
	if strings.Contains(s, "[![") {
		s = badge.ReplaceAllString(s, "")
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		switch {
		case strings.HasPrefix(s[i:], "**") || strings.HasPrefix(s[i:], "__") && (i == 0 || s[i-1] == ' '):
			i += 2
		case s[i] == '`':
			i++
		case s[i] == '\\' && i+1 < len(s) && strings.IndexByte("|*_`[]()#-.!\\<>", s[i+1]) >= 0:
			b.WriteByte(s[i+1])
			i += 2
		case s[i] == '!' && strings.HasPrefix(s[i+1:], "["):
			i++
		case s[i] == '[':
			if label, n := linkAt(s[i:]); n > 0 {
				b.WriteString(label)
				i += n
				continue
			}
			b.WriteByte('[')
			i++
		case s[i] == '*' && (i == 0 || s[i-1] == ' ' || i+1 == len(s) || s[i+1] == ' ' || s[i+1] == '.' || s[i+1] == ',') && !strings.HasPrefix(s[i:], "* "):
			i++
		default:
			b.WriteByte(s[i])
			i++
		}
	}
	out := b.String()
	if strings.ContainsRune(out, '&') {
		out = strings.ReplaceAll(html.UnescapeString(out), "\u00a0", " ")
	}
	return strings.TrimSpace(out)
}

// linkAt reads "[label](target)" and returns the label and how many bytes it takes; 0 for none.
func linkAt(s string) (string, int) {
	end := strings.Index(s, "](")
	if end < 0 || end > 300 || strings.Contains(s[1:end], "[") {
		return "", 0
	}
	stop := strings.IndexByte(s[end:], ')')
	if stop < 0 || stop > 1000 {
		return "", 0
	}
	return s[1:end], end + stop + 1
}
