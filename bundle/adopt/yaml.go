package adopt

import (
	"encoding/json"
	"strings"
	"unicode"
)

// yamlWriter writes a manifest line by line, each proposed value with a comment behind it.
type yamlWriter struct {
	b      strings.Builder
	values []Value
}

func (w *yamlWriter) String() string { return w.b.String() }

// commentColumn is where comments begin when the line before them is shorter.
const commentColumn = 44

// line writes one line; a comment goes behind it.
func (w *yamlWriter) line(indent int, text, comment string) {
	l := strings.Repeat(" ", indent) + text
	if comment = oneLine(comment, 220); comment != "" {
		if n := commentColumn - len([]rune(l)); n > 2 {
			l += strings.Repeat(" ", n)
		} else {
			l += "  "
		}
		l += "# " + comment
	}
	w.b.WriteString(strings.TrimRight(l, " ") + "\n")
}

// value writes a proposed value: "key: text  # where it came from; how sure".
func (w *yamlWriter) value(indent int, prefix, key, text, path string, o origin) {
	comment := o.sure.String()
	if o.from != "" {
		comment = o.from + "; " + comment
	}
	w.line(indent, prefix+key+": "+text, comment)
	w.values = append(w.values, Value{path, text, o.from, o.sure})
}

// todo writes a line for the maker to fill in, commented out.
func (w *yamlWriter) todo(indent int, text, comment string) {
	w.line(indent, "# "+text, "")
	if comment != "" {
		s := strings.TrimSuffix(w.b.String(), "\n")
		w.b.Reset()
		w.b.WriteString(s)
		last := s[strings.LastIndexByte(s, '\n')+1:]
		pad := max(2, commentColumn-len([]rune(last)))
		w.b.WriteString(strings.Repeat(" ", pad) + "# " + oneLine(comment, 220) + "\n")
	}
}

// remark writes a comment line.
func (w *yamlWriter) remark(indent int, text string) {
	w.b.WriteString(strings.Repeat(" ", indent) + "# " + oneLine(text, 220) + "\n")
}

// oneLine makes a text fit for a comment: no line end, no control sign, no more than so many signs.
func oneLine(s string, most int) string {
	s = strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\r' {
			return ' '
		}
		if unicode.IsControl(r) || r == '\uFFFD' || r == '\u2028' || r == '\u2029' || r == '\u0085' || r == '\ufeff' {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		s = string(r[:most-1]) + "…"
	}
	return s
}

// plainText are texts that need no quotes, even between braces.
var plainText = lazily(`^[A-Za-z][A-Za-z0-9 .;()/+'_-]*$`)

// quote writes a text as a YAML value: plain where nothing in it could mean something else, else in double
// quotes, whose escapes are those of JSON (YAML 1.2, section 7.3.1).
func quote(s string) string {
	s = oneLine(s, 90_000)
	if plainText.MatchString(s) && !strings.HasSuffix(s, " ") {
		switch strings.ToLower(s) {
		case "null", "true", "false", "yes", "no", "on", "off", "y", "n":
		default:
			return s
		}
	}
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(s) // a string always encodes
	return strings.TrimSpace(b.String())
}

// quotePath writes a file's path.
func quotePath(s string) string {
	if plainPath.MatchString(s) {
		return s
	}
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(s)
	return strings.TrimSpace(b.String())
}

var plainPath = lazily(`^[A-Za-z][A-Za-z0-9._/-]*$`)
