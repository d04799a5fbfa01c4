package board

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// Length is a figure in mm that may be unknown.
type Length struct {
	MM    float64
	Given bool
	At    finding.Place
}

// SetText reads a length such as "2.5" or "2.5 mm".
func (l *Length) SetText(s string, quoted bool) error {
	var v unit.Length
	if err := v.SetText(s, quoted); err != nil {
		return err
	}
	if v > 2000 || v < -2000 { // no board of this kind is longer; a slip of the point shows
		return fmt.Errorf("expected a length within 2000 mm, found %q", s)
	}
	l.MM, l.Given = float64(v), true
	return nil
}

// SetPlace keeps the place.
func (l *Length) SetPlace(at finding.Place) { l.At = at }

// IsZero tells that the figure is unknown, so that JSON leaves it out.
func (l Length) IsZero() bool { return !l.Given }

// MarshalJSON prints the figure, null when unknown.
func (l Length) MarshalJSON() ([]byte, error) { return marshalFigure(l.MM, l.Given) }

// Number is a plain figure (volts, ampere, watts, a count) that may be unknown.
type Number struct {
	V     float64
	Given bool
	At    finding.Place
}

// SetText reads a plain number.
func (n *Number) SetText(s string, quoted bool) error {
	v, err := unit.ParseNumber(s)
	if err != nil || quoted {
		return fmt.Errorf("expected a plain number, found %q", s)
	}
	if v > 1e6 || v < -1e6 {
		return fmt.Errorf("expected a number within a million, found %q", s)
	}
	n.V, n.Given = v, true
	return nil
}

// SetPlace keeps the place.
func (n *Number) SetPlace(at finding.Place) { n.At = at }

// IsZero tells that the figure is unknown.
func (n Number) IsZero() bool { return !n.Given }

// MarshalJSON prints the figure, null when unknown.
func (n Number) MarshalJSON() ([]byte, error) { return marshalFigure(n.V, n.Given) }

func marshalFigure(v float64, given bool) ([]byte, error) {
	if !given {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

// Text is a text that may be absent (S is then "").
type Text struct {
	S  string
	At finding.Place
}

// SetText keeps the text as typed.
func (t *Text) SetText(s string, quoted bool) error {
	if len(s) > 4000 {
		return fmt.Errorf("expected a text of up to 4000 bytes, found %d", len(s))
	}
	t.S = strings.TrimSpace(s)
	return nil
}

// SetPlace keeps the place.
func (t *Text) SetPlace(at finding.Place) { t.At = at }

// IsZero tells that the text is absent.
func (t Text) IsZero() bool { return t.S == "" }

// MarshalJSON prints the text.
func (t Text) MarshalJSON() ([]byte, error) { return json.Marshal(t.S) }

// Flag is true or false; absent is false.
type Flag struct {
	On bool
	At finding.Place
}

// SetText reads true or false.
func (f *Flag) SetText(s string, quoted bool) error {
	if quoted || s != "true" && s != "false" {
		return fmt.Errorf("expected true or false, found %q", s)
	}
	f.On = s == "true"
	return nil
}

// SetPlace keeps the place.
func (f *Flag) SetPlace(at finding.Place) { f.At = at }

// IsZero tells that the flag is off.
func (f Flag) IsZero() bool { return !f.On }

// MarshalJSON prints true or false.
func (f Flag) MarshalJSON() ([]byte, error) { return json.Marshal(f.On) }

// Lengths is a list of figures in mm: a point [x, y], a range [low, high], a rectangle
// [x0, y0, x1, y1].
type Lengths struct {
	Items []Length
	At    finding.Place
}

// ListForm decodes the list.
func (l *Lengths) ListForm() any { return &l.Items }

// SetPlace keeps the place.
func (l *Lengths) SetPlace(at finding.Place) { l.At = at }

// IsZero tells that the list is absent.
func (l Lengths) IsZero() bool { return len(l.Items) == 0 }

// MarshalJSON prints the list.
func (l Lengths) MarshalJSON() ([]byte, error) {
	if l.Items == nil {
		return []byte("[]"), nil
	}
	return json.Marshal(l.Items)
}

// Given tells that the list holds n figures, all known.
func (l Lengths) Given(n int) bool {
	return len(l.Items) == n && !slices.ContainsFunc(l.Items, func(v Length) bool { return !v.Given })
}

// Pair returns the two figures of a point or range; ok is false for anything else.
func (l Lengths) Pair() (a, b float64, ok bool) {
	if !l.Given(2) {
		return 0, 0, false
	}
	return l.Items[0].MM, l.Items[1].MM, true
}

// Rect returns the four figures of a rectangle; ok is false for anything else.
func (l Lengths) Rect() (x0, y0, x1, y1 float64, ok bool) {
	if !l.Given(4) {
		return 0, 0, 0, 0, false
	}
	return l.Items[0].MM, l.Items[1].MM, l.Items[2].MM, l.Items[3].MM, true
}

// Entry is one key of a map with its text.
type Entry struct {
	Key   string
	KeyAt finding.Place
	Value Text
}

// Entries is a map from names to texts in the order of the file.
type Entries []Entry

// Entry makes room for one key's value.
func (e *Entries) Entry(key string, at finding.Place) (any, error) {
	if len(*e) >= 1000 {
		return nil, fmt.Errorf("more than 1000 entries")
	}
	*e = append(*e, Entry{Key: key, KeyAt: at})
	return &(*e)[len(*e)-1].Value, nil
}

// Get returns the text of a key, "" when there is none.
func (e Entries) Get(key string) string {
	for _, x := range e {
		if x.Key == key {
			return x.Value.S
		}
	}
	return ""
}

// MarshalJSON prints the map in the order of the file.
func (e Entries) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, x := range e {
		if i > 0 {
			b.WriteByte(',')
		}
		k, err := json.Marshal(x.Key)
		if err != nil {
			return nil, fmt.Errorf("key %q: %w", x.Key, err)
		}
		v, err := json.Marshal(x.Value)
		if err != nil {
			return nil, fmt.Errorf("value of %q: %w", x.Key, err)
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// Basis says how figures are known: one word for all, or a word for each by the path of its key
// ("axis.z").
type Basis struct {
	All  Text
	Each Entries
}

// ScalarForm decodes one word for all.
func (b *Basis) ScalarForm() any { return &b.All }

// MapForm decodes a word for each.
func (b *Basis) MapForm() any { return &b.Each }

// IsZero tells that nothing is said.
func (b Basis) IsZero() bool { return b.All.S == "" && len(b.Each) == 0 }

// MarshalJSON prints the word or the map.
func (b Basis) MarshalJSON() ([]byte, error) {
	if len(b.Each) > 0 {
		return json.Marshal(b.Each)
	}
	return json.Marshal(b.All)
}

// Of returns the word for a figure: that of its own key, of the longest key its path begins with,
// or the one for all; "" when nothing is said.
func (b Basis) Of(path string) string {
	best, word := 0, b.All.S
	for _, e := range b.Each {
		if (e.Key == path || strings.HasPrefix(path, e.Key+".")) && len(e.Key) > best {
			best, word = len(e.Key), e.Value.S
		}
	}
	return word
}

// bases are the words that Basis may hold, with what they mean.
var bases = map[string]string{
	"stated": "printed in the standard", "board-file": "read from a published layout", "scaled": "measured off a drawing, +-0.5 mm",
	"catalogue": "part drawing", "derived": "worked out from other figures", "limit": "only a maximum is known", "measured": "measured on a board with a caliper",
	"practice": "common practice, no source", "memory": "from memory, no source", "standard": "standard of the connector",
	"open-model": "open model of the connector", "guide": "design guide",
}

// BasisWords says in words how a figure is known, "" for an unknown word.
func BasisWords(basis string) string { return bases[basis] }

// WeakBasis tells whether a finding that leans on such a figure has to say so: it is scaled off a
// drawing, a bare limit, common practice or from memory.
func WeakBasis(basis string) bool {
	return slices.Contains([]string{"scaled", "limit", "practice", "memory"}, basis)
}
