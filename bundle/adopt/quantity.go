package adopt

import (
	"strconv"
	"strings"
)

// quantity is how many, as people write it.
type quantity struct {
	n    float64 // pieces, or the unit; packs are multiplied out
	unit string  // "" for pieces, "m", "g"
	pack int     // how many come in one; 0: not said
}

// spelled are the numbers that people write as words.
var spelled = map[string]float64{"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "pair": 2, "dozen": 12}

const numberWords = `one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve`

// number reads a figure with a decimal point or comma, and with groups of three: "1,25", "1.250,5".
func number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if v, ok := spelled[strings.ToLower(s)]; ok {
		return v, true
	}
	if s == "" || strings.Trim(s, "0123456789.,") != "" || len(s) > 20 {
		return 0, false
	}
	comma, point := strings.LastIndexByte(s, ','), strings.LastIndexByte(s, '.')
	switch {
	case comma >= 0 && point >= 0 && comma > point: // 1.250,5
		s = strings.Replace(strings.ReplaceAll(s, ".", ""), ",", ".", 1)
	case comma >= 0 && point >= 0: // 1,250.5
		s = strings.ReplaceAll(s, ",", "")
	case strings.Count(s, ",") > 1:
		s = strings.ReplaceAll(s, ",", "")
	case comma >= 0:
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

var (
	plainQuantity = lazily(`(?i)^[~≈]?\s*(\d[\d.,]*)\s*(x|×|pcs?\.?|pieces?|pc\.?|off|ea\.?|each|units?|nos?\.?|stk\.?|stück|st\.?|uds?\.?|times)?\s*(?:\(.*\))?$`)
	timesFirst    = lazily(`(?i)^\(?\s*[x×]\s*(\d+)\s*\)?$`)
	wordQuantity  = lazily(`(?i)^(?:a\s+)?(` + numberWords + `|pair|dozen)(?:\s+(?:of|pcs?|pieces?|off))?$`)
	unitQuantity  = lazily(`(?i)^[~≈]?\s*(\d[\d.,]*)\s*(mm|cm|m|metres?|meters?|g|grams?|kg)\b\.?$`)
	packsQuantity = lazily(`(?i)^(\d+)\s*(?:x\s*)?(?:packs?|packets?|bags?|boxes|box|sets?)\s*(?:of|à|@|with)\s*(\d+)$`)
	onePack       = lazily(`(?i)^(?:an?\s+)?(?:packs?|packets?|bags?|box|set)\s+(?:of|with)\s+(\d+)$`)
	needOfPack    = lazily(`(?i)^(\d+)\s*(?:pcs?|pieces?)?\s*[,(/]?\s*\(?(?:of a |from a |sold in |comes? in )?(?:packs?|packets?|bags?)\s*(?:of)?\s*(\d+)\)?$`)
	sumQuantity   = lazily(`^(\d+)\s*\+\s*(\d+)$`)
	perQuantity   = lazily(`(?i)^(\d+)\s*(?:per|/|a)\s*(?:set|unit|build|print|device|kit|piece)$`)
	spareQuantity = lazily(`(?i)^(\d+)\s*(?:\+\s*\d+\s*|\(\+\s*\d+\s*)spares?\)?$`)
)

// parseQuantity reads a cell or a phrase that is nothing but a quantity: "4", "4x", "x4", "4 pcs", "four", "a
// pair", "2 packs of 10", "0,6 m". A range and a question are none.
func parseQuantity(s string) (quantity, bool) {
	s = strings.TrimSpace(s)
	if len(s) > 60 {
		return quantity{}, false
	}
	if m := plainQuantity.FindStringSubmatch(s); m != nil {
		n, ok := number(m[1])
		return quantity{n: n, pack: packOf(s)}, ok && n < 1e6
	}
	if m := timesFirst.FindStringSubmatch(s); m != nil {
		n, ok := number(m[1])
		return quantity{n: n}, ok
	}
	if m := wordQuantity.FindStringSubmatch(s); m != nil {
		return quantity{n: spelled[strings.ToLower(m[1])]}, true
	}
	if m := unitQuantity.FindStringSubmatch(s); m != nil {
		n, ok := number(m[1])
		switch unit := strings.ToLower(m[2]); {
		case unit == "mm":
			return quantity{n: n / 1000, unit: "m"}, ok
		case unit == "cm":
			return quantity{n: n / 100, unit: "m"}, ok
		case unit[0] == 'm':
			return quantity{n: n, unit: "m"}, ok
		case unit == "kg":
			return quantity{n: n * 1000, unit: "g"}, ok
		default:
			return quantity{n: n, unit: "g"}, ok
		}
	}
	if m := packsQuantity.FindStringSubmatch(s); m != nil {
		packs, _ := number(m[1])
		each, ok := number(m[2])
		return quantity{n: packs * each, pack: int(each)}, ok && each > 0 && each < 1e5
	}
	if m := onePack.FindStringSubmatch(s); m != nil {
		each, ok := number(m[1])
		return quantity{n: each, pack: int(each)}, ok && each > 0 && each < 1e5
	}
	if m := needOfPack.FindStringSubmatch(s); m != nil {
		n, _ := number(m[1])
		each, ok := number(m[2])
		return quantity{n: n, pack: int(each)}, ok && each > 0 && each < 1e5
	}
	if m := spareQuantity.FindStringSubmatch(s); m != nil {
		n, ok := number(m[1])
		return quantity{n: n}, ok
	}
	if m := sumQuantity.FindStringSubmatch(s); m != nil {
		a, _ := number(m[1])
		b, ok := number(m[2])
		return quantity{n: a + b}, ok
	}
	if m := perQuantity.FindStringSubmatch(s); m != nil {
		n, ok := number(m[1])
		return quantity{n: n}, ok
	}
	return quantity{}, false
}

var (
	leadingCount  = lazily(`(?i)^\s*(?:(\d+)\s*(?:[x×]|pcs?\.?|pieces?|off|ea\.?)[\s:]+|(\d+)[x×](?:\s|$)|[x×]\s*(\d+)[\s:]+|(` + numberWords + `)\s+(?:pieces?\s+of\s+)?|a pair of\s+|(\d{1,4})\s+)`)
	trailingCount = lazily(`(?i)[\s,:;(\[–—-]+(?:[x×]\s*(\d+)|(\d+)\s*(?:[x×]|pcs?\.?|pieces?|off|ea\.?)|qty\.?:?\s*(\d+)|quantity:?\s*(\d+)|(\d+))\s*[)\]]?[.;]?\s*$`)
	packWords     = lazily(`(?i)\b(?:packs?|packets?|bags?|sold in|bag) (?:of )?(\d{1,5})\b|\b(\d{1,5})[ -]?(?:pack|pcs?/pack|per pack)\b`)
)

// countAhead takes the count from the front of a line: "4x M3x10", "four screws". rest is what follows.
func countAhead(s string) (n float64, rest string, ok bool) {
	m := leadingCount.FindStringSubmatchIndex(s)
	if m == nil {
		return 0, s, false
	}
	rest = s[m[1]:]
	for k := 1; k <= 5; k++ {
		if m[2*k] >= 0 {
			n, ok = number(s[m[2*k]:m[2*k+1]])
			if ok && k == 5 && rest != "" && startsUnit(rest) { // 4 mm hose
				return 0, s, false
			}
			return n, rest, ok
		}
	}
	return 2, rest, true // a pair of
}

var unitStart = lazily(`(?i)^(?:mm|cm|m|g|kg|v|ma|a|w|%|°|h|min|hours?|minutes?|inch|in)\b`)

func startsUnit(s string) bool { return unitStart.MatchString(s) }

// countBehind takes the count from the end of a line: "Arm (x2)", "lid.stl - 1", "foot, 3 pcs".
func countBehind(s string) (n float64, rest string, ok bool) {
	m := trailingCount.FindStringSubmatchIndex(s)
	if m == nil {
		return 0, s, false
	}
	for k := 1; k <= 5; k++ {
		if m[2*k] >= 0 {
			n, ok = number(s[m[2*k]:m[2*k+1]])
			return n, strings.TrimSpace(s[:m[0]]), ok
		}
	}
	return 0, s, false
}

// packOf finds how many come in one pack: "pack of 20".
func packOf(s string) int {
	m := packWords.FindStringSubmatch(s)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1] + m[2])
	return n
}

var (
	hoursMinutes = lazily(`(?i)^(?:(\d+)\s*d(?:ays?)?)?\s*(?:(\d+(?:[.,]\d+)?)\s*(?:h(?:rs?|ours?)?|std\.?))?\s*(?:(\d+)\s*(?:m(?:ins?|inutes?)?)?)?\s*(?:(\d+)\s*s(?:ec)?)?$`)
	clock        = lazily(`^(\d{1,3}):([0-5]\d)(?::([0-5]\d))?$`)
	minutesOnly  = lazily(`(?i)^(\d+)\s*(?:m|mins?|minutes?)$`)
)

// parseTime reads a duration in seconds: "5h 20m", "5:20" (hours and minutes), "5.5 h", "320 min", and a bare
// fraction below one, which is how spreadsheets keep a time: a share of a day.
func parseTime(s string) (seconds float64, ok bool) {
	s = strings.TrimSpace(strings.Trim(strings.TrimSpace(s), "~≈()"))
	if s == "" || len(s) > 40 {
		return 0, false
	}
	if m := clock.FindStringSubmatch(s); m != nil {
		h, _ := strconv.Atoi(m[1])
		mi, _ := strconv.Atoi(m[2])
		se, _ := strconv.Atoi(m[3])
		return float64(h*3600 + mi*60 + se), true
	}
	if m := minutesOnly.FindStringSubmatch(s); m != nil {
		v, _ := strconv.Atoi(m[1])
		return float64(v * 60), v < 1e6
	}
	if v, isNumber := number(s); isNumber {
		if v > 0 && v < 1 && strings.ContainsAny(s, ".,") {
			return v * 86400, true
		}
		return 0, false // a bare figure: minutes or hours, nobody knows
	}
	m := hoursMinutes.FindStringSubmatch(s)
	if m == nil || m[1]+m[2]+m[4] == "" {
		return 0, false
	}
	sum := 0.0
	for i, factor := range []float64{86400, 3600, 60, 1} {
		if m[i+1] != "" {
			v, _ := number(m[i+1])
			sum += v * factor
		}
	}
	return sum, sum < 1e7
}
