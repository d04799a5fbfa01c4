package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dropwright/bundle/design"
)

// tongue is a language of the table.
type tongue int

const (
	english tongue = iota
	german
	tongues // how many there are
)

// entry is one line of the table: the words in each language.
type entry [tongues]string

// codes are the languages' BCP 47 tags.
var codes = entry{"en", "de"}

// tongueOf returns the language that a house writes in; English for one that is not in the table.
func tongueOf(l string) tongue {
	for i, c := range codes {
		if c == l {
			return tongue(i)
		}
	}
	return english
}

// say returns the words for a key, filled with args. A key that is not in the table shows itself, which a test
// of the sources rules out.
func (t tongue) say(key string, args ...any) string {
	e, ok := table[key]
	if !ok {
		return "[" + key + "]"
	}
	if len(args) == 0 {
		return e[t]
	}
	return fmt.Sprintf(e[t], args...)
}

// has reports whether the table knows a key.
func (t tongue) has(key string) bool { _, ok := table[key]; return ok }

// number writes a figure with a fixed number of decimals and the language's decimal sign.
func (t tongue) number(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if t == german {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// short writes a figure with at most four decimals and none that say nothing.
func (t tongue) short(x float64) string {
	s := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 4, 64), "0"), ".")
	if t == german {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// mm writes a length with its unit; the space between them does not break.
func (t tongue) mm(x float64) string { return t.short(x) + nbsp + "mm" }

// grams writes a mass: a tenth of a gram below 100 g, whole grams above.
func (t tongue) grams(x float64) string {
	if math.Abs(x) >= 99.95 {
		return t.number(x, 0) + nbsp + "g"
	}
	return t.number(x, 1) + nbsp + "g"
}

// money writes an amount with its currency's letters.
func (t tongue) money(x float64, currency string) string {
	s := t.number(x, 2)
	if currency == "" {
		return s
	}
	return s + nbsp + currency
}

// duration writes hours and minutes.
func (t tongue) duration(seconds float64) string {
	m := int64(math.Round(seconds / 60))
	if m < 1 {
		m = 1
	}
	if m < 60 {
		return fmt.Sprintf("%d%smin", m, nbsp)
	}
	return fmt.Sprintf("%d%sh%s%02d%smin", m/60, nbsp, nbsp, m%60, nbsp)
}

// date writes a day: 20 January 2027, 20. Januar 2027.
func (t tongue) date(d design.Date) string {
	if d.Month < 1 || d.Month > 12 {
		return d.String()
	}
	month := months[t][d.Month-1]
	if t == german {
		return fmt.Sprintf("%d. %s %d", d.Day, month, d.Year)
	}
	return fmt.Sprintf("%d %s %d", d.Day, month, d.Year)
}

// list joins words: a, b and c.
func (t tongue) list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + t.say("and") + " " + words[len(words)-1]
}

// nbsp keeps a figure and its unit on one line.
const nbsp = "\u00a0"

var months = [tongues][12]string{
	{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
	{"Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November", "Dezember"},
}
