package adopt

import (
	"math"
	"strings"

	"dropwright/bundle/hardware"
)

// mention is a fastener as a text names it. Fields that the text leaves out are zero.
type mention struct {
	kind     hardware.Kind
	standard string // as written: "ISO 4762"
	size     hardware.Size
	length   float64
	outer    float64 // inserts
	head     hardware.Head
	drive    hardware.Drive
	ends     string // standoffs
	count    float64
	counted  bool
	from, to int // bytes of the text that it takes
}

var (
	threadToken = lazily(`(?:^|[^\p{L}\d])((?:M\s?|m)(\d{1,2}(?:[.,]\d)?))(?:\s*[xX×*]\s*(\d{1,3}(?:[.,]\d{1,2})?)(?:\s*mm)?)?(?:\s*[xX×*]\s*(\d{1,3}(?:[.,]\d{1,2})?))?`)
	standardRef = lazily(`(?i)\b(?:DIN(?:\s*EN)?(?:\s*ISO)?|ISO)\s*\d{3,5}(?:-\d)?\b`)
	mmLength    = lazily(`(?i)\b(\d{1,3}(?:[.,]\d{1,2})?)\s*mm\b`)
	lengthWord  = lazily(`(?i)\b(?:length|long|l|h|height|depth)\s*[=:]?\s*(\d{1,3}(?:[.,]\d{1,2})?)|\b(\d{1,3}(?:[.,]\d{1,2})?)\s*(?:mm)?\s*(?:long|length|tall|deep|high)\b`)
	outerWord   = lazily(`(?i)(?:\b(?:outer(?: diameter)?|outside(?: diameter)?|o\.?d\.?|diameter|dia\.?|ø|d)|[⌀ø])\s*[=:]?\s*(\d{1,2}(?:[.,]\d{1,2})?)|\b(\d{1,2}(?:[.,]\d{1,2})?)\s*(?:mm)?\s*(?:outer(?: diameter)?|outside(?: diameter)?|o\.?d\.?|diameter|wide|across|dia\.?)(?:\b|$)`)
	twoSizes    = lazily(`\b(\d{1,2}(?:[.,]\d{1,2})?)\s*(?:mm)?\s*[x×*]\s*(\d{1,2}(?:[.,]\d{1,2})?)\b`)
	clauseEnd   = lazily(`[;\n]|\.\s|\.$|\s[–—]\s|\bthen\b`)
	countBefore = lazily(`(?i)(?:^|[^\d.,x×\p{L}])(?:(\d{1,4})\s*(?:[x×*]|pcs?\.?|pieces?|off)?|[x×]\s*(\d{1,4})|(` + numberWords + `)|(?:an?|the))(?:\s+of(?:\s+the)?)?(?:\s+(?:small|short|long|longer|shorter|brass|black|steel|stainless|machine|remaining|other|more|little|same|pan[- ]head|socket[- ]head|button[- ]head|countersunk|self[- ]tapping|heat[- ]set|threaded|hex|lock|nylon|cap|` + headAlternatives + `))*\s*[(:]?\s*$`)
	countAfter  = lazily(`(?i)^[^;]{0,60}?[\s,:(–—-]+(?:[x×]\s*(\d{1,4})\b|qty\.?:?\s*(\d{1,4})\b|(\d{1,4})\s*(?:[x×]|pcs?\b|pieces?\b|off\b))`)
)

const headAlternatives = `socket|button|pan|flat|cap|set|grub`

// kindWords say what sort of fastener a text speaks of; the first that is found wins.
var kindWords = []struct {
	kind  hardware.Kind
	shape *pattern
}{
	{hardware.KindInsert, lazily(`(?i)\b(?:heat[- ]?(?:set|stake[d]?)|threaded|brass|knurled|melt[- ]?in)?[- ]?\s*(?:inserts?|einschmelz\w*|gewindeeins[aä]tz\w*)\b|\bheat[- ]?sets?\b`)},
	{hardware.KindStandoff, lazily(`(?i)\b(?:stand[- ]?offs?|hex(?:agonal)? spacers?|abstandsbolzen)\b`)},
	{hardware.KindWasher, lazily(`(?i)\b(?:washers?|unterlegscheiben?|rondelles?)\b`)},
	{hardware.KindNut, lazily(`(?i)\b(?:(?:hex|lock|nyloc|nylock|square|flange|thin|wing)?[- ]?nuts?|muttern?|[ée]crous?|tuercas?)\b`)},
	{hardware.KindScrew, lazily(`(?i)\b(?:screws?|bolts?|shcs|bhcs|fhcs|schrauben?|vis|tornillos?|grub|capscrews?)\b`)},
}

// headWords say which head a screw has.
var headWords = []struct {
	head  hardware.Head
	shape *pattern
}{
	{hardware.HeadCountersunkCross, lazily(`(?i)(?:countersunk|csk|flat[- ]?head)[^,;]{0,24}(?:cross|ph\d|phillips|pozi)|(?:cross|phillips)[^,;]{0,24}(?:countersunk|csk|flat[- ]?head)`)},
	{hardware.HeadCountersunk, lazily(`(?i)\b(?:countersunk|counter-sunk|csk|fhcs|flat[- ]?head(?:ed)?|senkkopf)\b`)},
	{hardware.HeadButton, lazily(`(?i)\b(?:button(?:[- ]?head(?:ed)?)?|bhcs|domed|dome[- ]?head|linsenkopf)\b`)},
	{hardware.HeadSet, lazily(`(?i)\b(?:set[- ]?screws?|grub|headless|madenschraube)\b`)},
	{hardware.HeadPan, lazily(`(?i)\b(?:pan(?:[- ]?head(?:ed)?)?|cross[- ]?head|phillips|pozi\w*)\b`)},
	{hardware.HeadSocket, lazily(`(?i)\b(?:socket(?:[- ]?(?:head|cap|headed))?|shcs|cap[- ]?(?:screws?|heads?)|capscrews?|allen|cylinder[- ]?head|cylindrical|inbus|zylinderkopf)\b`)},
	{hardware.HeadHex, lazily(`(?i)\b(?:hex(?:agon)?[- ]?(?:head|bolts?)|sechskantschraube)\b`)},
}

// fastenersIn finds the fasteners that a text names, in its order. Each takes the text around its thread up to
// the next thread or the end of the clause.
func fastenersIn(s string) []mention {
	if len(s) > 20_000 {
		s = s[:20_000]
	}
	found := threadToken.FindAllStringSubmatchIndex(s, 200)
	var out []mention
	for i, m := range found {
		size, err := hardware.ParseSize(s[m[2]:m[3]])
		if err != nil {
			continue
		}
		x := mention{size: size, from: m[2], to: m[1]}
		left, right := 0, len(s)
		if i > 0 {
			left = found[i-1][1]
		}
		if i+1 < len(found) {
			right = found[i+1][2]
		}
		for _, c := range clauseEnd.FindAllStringIndex(s[left:m[2]], -1) {
			left += c[1]
			break
		}
		if c := lastClause(s[left:m[2]]); c > 0 {
			left += c
		}
		if c := clauseEnd.FindStringIndex(s[m[1]:right]); c != nil {
			right = m[1] + c[0]
		}
		before, after := s[left:m[2]], s[m[1]:right]
		next := ""
		if i+1 < len(found) && right == found[i+1][2] { // what precedes the next thread may be its own count
			next = countTail(after)
			after = strings.TrimSuffix(after, next)
		}
		numbers := [2]float64{}
		for k := range 2 {
			if m[6+2*k] >= 0 {
				numbers[k], _ = number(s[m[6+2*k]:m[7+2*k]])
			}
		}
		x.read(before, after, numbers)
		if x.kind == "" {
			continue
		}
		x.counts(before, after)
		out = append(out, x)
	}
	return out
}

// lastClause is where the last clause of a text begins.
func lastClause(s string) int {
	at := 0
	for _, c := range clauseEnd.FindAllStringIndex(s, -1) {
		at = c[1]
	}
	return at
}

var tailCount = lazily(`(?i)(?:[,&+(]|\band\b|\bwith\b|\bplus\b|\bby\b)?[\s(]*(?:\d{1,4}\s*(?:[x×*]|pcs?\.?|pieces?)?|[x×]\s*\d{1,4}|` + numberWords + `|an?|the)\s*$|(?:[,&+(]|\band\b|\bwith\b|\bplus\b)\s*$`)

// countTail is what at the end of a text is the count of the thing that follows it.
func countTail(s string) string { return tailCount.FindString(s) }

// read takes kind, head, standard and sizes from the words around a thread.
func (x *mention) read(before, after string, numbers [2]float64) {
	near := after + " " + before // what follows the thread says more than what precedes it
	if m := standardRef.FindString(near); m != "" {
		if st, ok := hardware.StandardOf(m); ok {
			x.standard, x.kind = st.Number, st.Kind
		}
	}
	if x.kind == "" {
		for _, text := range []string{after, before} {
			at := len(text) + 1
			for _, k := range kindWords {
				if m := k.shape.FindStringIndex(text); m != nil && m[0] < at {
					at, x.kind = m[0], k.kind
				}
			}
			if x.kind != "" {
				break
			}
		}
	}
	if numbers[0] > 0 && (x.kind == "" || x.kind == hardware.KindNut || x.kind == hardware.KindWasher) {
		x.kind = hardware.KindScrew // M3x10 alone is a screw
	}
	if x.kind == "" {
		for _, h := range headWords {
			if h.shape.MatchString(near) {
				x.kind = hardware.KindScrew
			}
		}
	}
	switch x.kind {
	case hardware.KindScrew:
		x.length = numbers[0]
		if t, ok := hardware.ThreadOf(x.size); ok && numbers[1] > 0 && math.Abs(numbers[0]-t.Pitch) < 0.01 {
			x.length = numbers[1] // M3x0.5x16
		}
		if x.length == 0 {
			x.length = figure(lengthWord, near)
		}
		if x.length == 0 {
			x.length = figure(mmLength, near)
		}
		for _, h := range headWords {
			if h.shape.MatchString(near) {
				x.head = h.head
				break
			}
		}
		if strings.Contains(strings.ToLower(near), "torx") || strings.Contains(strings.ToLower(near), "hexalobular") {
			x.drive = hardware.DriveHexalobular
		}
	case hardware.KindInsert:
		x.outer, x.length = figure(outerWord, near), figure(lengthWord, near)
		pair := numbers
		if pair[1] == 0 {
			if m := twoSizes.FindStringSubmatch(near); m != nil {
				a, _ := number(m[1])
				b, _ := number(m[2])
				pair = [2]float64{a, b}
			}
		}
		x.insertSizes(pair, numbers[0])
	case hardware.KindStandoff:
		x.length = numbers[0]
		if x.length == 0 {
			x.length = figure(mmLength, near)
		}
		lower := strings.ToLower(near)
		switch {
		case strings.Contains(lower, "male-female"), strings.Contains(lower, "female-male"), strings.Contains(lower, "m-f"), strings.Contains(lower, "m/f"):
			x.ends = "female-male"
		case strings.Contains(lower, "male-male"):
			x.ends = "male-male"
		}
	case hardware.KindNut:
		if x.standard == "" && lockWord.MatchString(near) {
			x.standard = "ISO 7040"
		}
	}
}

var (
	lockWord = lazily(`(?i)lock|nylo`)
)

// insertSizes tells outer diameter and length of an insert apart where only the two figures are written: the
// outer diameter is the one that the thread's published inserts have, and of two such the second, as shops
// write thread x length x outer.
func (x *mention) insertSizes(pair [2]float64, single float64) {
	if pair[1] == 0 {
		if x.length == 0 && x.outer == 0 && single > 0 {
			x.length = single // M3x5.7: shops name the length first
		}
		return
	}
	if x.outer > 0 && x.length > 0 {
		return
	}
	lo, hi := outerRange(x.size)
	a, b := pair[0] >= lo && pair[0] <= hi, pair[1] >= lo && pair[1] <= hi
	switch {
	case a && !b:
		x.outer, x.length = pair[0], pair[1]
	case b:
		x.outer, x.length = pair[1], pair[0]
		if a && pair[0] < pair[1] && pair[1] > 1.75*x.size.Nominal() {
			x.outer, x.length = pair[0], pair[1] // an insert that wide is rare, one that long is usual
		}
	}
}

// outerRange is the outer diameters of published inserts of a thread, mm.
func outerRange(s hardware.Size) (lo, hi float64) {
	t, ok := hardware.TableOf("insert")
	lo, hi = math.Inf(1), 0
	if ok {
		for _, r := range t.Rows {
			if r.Text("size") != string(s) {
				continue
			}
			if v, ok := r.Number("outer"); ok {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	if hi == 0 {
		return 1.2 * s.Nominal(), 1.8 * s.Nominal()
	}
	return lo - 0.3, hi + 0.3
}

func figure(shape *pattern, s string) float64 {
	m := shape.FindStringSubmatch(s)
	if m == nil {
		return 0
	}
	for _, g := range m[1:] {
		if v, ok := number(g); ok {
			return v
		}
	}
	return 0
}

// counts takes the count from before the thread, or from just behind the thing.
func (x *mention) counts(before, after string) {
	before = standardRef.ReplaceAllString(before, "")
	if m := countBefore.FindStringSubmatch(before); m != nil {
		for _, g := range m[1:] {
			if v, ok := number(g); ok && v > 0 {
				x.count, x.counted = v, true
				return
			}
		}
	}
	if m := countAfter.FindStringSubmatch(after); m != nil {
		for _, g := range m[1:] {
			if v, ok := number(g); ok && v > 0 {
				x.count, x.counted = v, true
				return
			}
		}
	}
}
