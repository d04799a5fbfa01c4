package sheet

import (
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

var verb = regexp.MustCompile(`%(\[\d\])?[sd]`)

// TestTableIsComplete holds that each line has words in every language and fills in the same things.
func TestTableIsComplete(t *testing.T) {
	for key, e := range table {
		first := verb.FindAllString(e[0], -1)
		for l := range tongues {
			if strings.TrimSpace(e[l]) == "" {
				t.Errorf("%q has no words in %s", key, codes[l])
			}
			if got := verb.FindAllString(e[l], -1); !slices.Equal(got, first) {
				t.Errorf("%q fills in %v in %s, %v in %s", key, first, codes[0], got, codes[l])
			}
		}
	}
	for _, w := range (design.Language("")).Words() {
		if codes[tongueOf(w)] != w {
			t.Errorf("a house may ask for %q; the table does not know it", w)
		}
	}
}

// TestKeysAreThere reads our own sources: every key that is said is in the table, and every key of the table is
// said.
func TestKeysAreThere(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") || f == "table.go" {
			continue
		}
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(data)
	}
	source := all.String()
	template, err := os.ReadFile("../../templates/sheet/sheet.html")
	if err != nil {
		t.Fatal(err)
	}
	source += strings.ReplaceAll(string(template), `say "`, `say("`)
	said := regexp.MustCompile(`(?:say|add|has)\("([a-z][^"]*)"(\s*\+)?`).FindAllStringSubmatch(source, -1)
	if len(said) < 50 {
		t.Fatalf("only %d keys found in the sources: the test sees nothing", len(said))
	}
	families := []string{"section."}
	for _, m := range said {
		if m[2] != "" {
			families = append(families, m[1])
			continue
		}
		if _, ok := table[m[1]]; !ok && !slices.Contains([]string{"esd", "hot", "fumes"}, m[1]) {
			t.Errorf("%q is said and is not in the table", m[1])
		}
	}
	for key := range table {
		family := key[:strings.Index(key, ".")+1]
		if family != "" && slices.Contains(families, family) || strings.Contains(source, `"`+key+`"`) {
			continue
		}
		t.Errorf("%q is in the table and never said", key)
	}
}

// TestFamiliesAreWhole holds that every word of the manifest that the sheet translates is in the table.
func TestFamiliesAreWhole(t *testing.T) {
	has := func(key string) {
		t.Helper()
		if _, ok := table[key]; !ok {
			t.Errorf("the table lacks %q", key)
		}
	}
	for _, w := range design.Caution("").Words() {
		has("caution." + w)
		if signals[w] == "" {
			t.Errorf("caution %q has no signal word", w)
		}
	}
	for k, s := range signals {
		has("caution." + k)
		has("signal." + s)
		has("meaning." + s)
		if !slices.Contains(signalOrder, s) {
			t.Errorf("signal %q has no place in the order", s)
		}
	}
	for _, w := range design.Hazard("").Words() {
		if w != "none" && signals[hazards[design.Hazard(w)]] == "" {
			t.Errorf("hazard %q calls for no caution", w)
		}
	}
	for _, w := range design.LeadRole("").Words() {
		has("lead." + w)
	}
	for _, w := range design.View("").Words() {
		has("view." + w)
	}
	for _, w := range design.Face("").Words() {
		has("face." + w)
	}
	for _, w := range design.Supports("").Words() {
		has("supports." + w)
	}
	for _, s := range hardware.Standards() {
		has("title." + s.Title)
	}
	for id, s := range sales {
		has(s.say)
		if s.name == "" {
			t.Errorf("licence %s has no name", id)
		}
	}
}

// TestNeverClaims holds that no word of ours claims tightness or resistance to fire.
func TestNeverClaims(t *testing.T) {
	claim := regexp.MustCompile(`(?i)\bIP ?\d|waterproof|wasserdicht|flammab|entflamm|fireproof|feuerfest|UL ?94`)
	for key, e := range table {
		for _, s := range e {
			if claim.MatchString(s) {
				t.Errorf("%q claims: %s", key, s)
			}
		}
	}
	if !claim.MatchString("it is IP65") {
		t.Error("the pattern does not see a claim")
	}
}

func TestFiguresInTheirHabits(t *testing.T) {
	day := design.Date{Year: 2027, Month: 3, Day: 5}
	for _, c := range []struct{ got, want string }{
		{english.date(day), "5 March 2027"},
		{german.date(day), "5. März 2027"},
		{english.mm(0.2), "0.2\u00a0mm"},
		{german.mm(0.2), "0,2\u00a0mm"},
		{english.grams(41.26), "41.3\u00a0g"},
		{german.grams(99.96), "100\u00a0g"},
		{english.duration(3700), "1\u00a0h\u00a002\u00a0min"},
		{german.duration(20), "1\u00a0min"},
		{german.money(4.2, "EUR"), "4,20\u00a0EUR"},
		{english.list([]string{"a", "b", "c"}), "a, b and c"},
		{german.list([]string{"a", "b"}), "a und b"},
		{english.list(nil), ""},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestSheetIsPlainValues holds that the tree has neither functions nor hidden state: it prints as JSON and
// compares.
func TestSheetIsPlainValues(t *testing.T) {
	if !reflect.DeepEqual(Compose(hook()), Compose(hook())) {
		t.Error("two compositions of one input differ")
	}
}
