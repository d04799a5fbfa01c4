package sheet

import (
	"encoding/json"
	"strings"
	"testing"
)

// TestMarkdown pairs texts with what the sheet makes of them. Forms follow CommonMark 0.31.2; the section stands
// beside each.
func TestMarkdown(t *testing.T) {
	for _, c := range []struct{ name, body, want string }{
		{"2.4 backslash escapes", `\*not em\* \<b>`, `[{"kind":"para","spans":[{"text":"*not em* <b>"}]}]`},
		{"2.5 entities", `&copy; &amp; &#35; &lt;b&gt;`, `[{"kind":"para","spans":[{"text":"© & # <b>"}]}]`},
		{"4.1 rule", "a\n\n---\n\nb", `[{"kind":"para","spans":[{"text":"a"}]},{"kind":"para","spans":[{"text":"b"}]}]`},
		{"4.2 headings do not skip", "# a\n\n#### b", `[{"kind":"heading","level":4,"spans":[{"text":"a"}]},{"kind":"heading","level":5,"spans":[{"text":"b"}]}]`},
		{"4.5 code", "```sh\n<b>\n```", `[{"kind":"code","text":"<b>"}]`},
		{"4.6 HTML block", "<div>\nx\n</div>\n\ny", `[{"kind":"para","spans":[{"text":"y"}]}]`},
		{"5.1 quote", "> q", `[{"kind":"quote","blocks":[{"kind":"para","spans":[{"text":"q"}]}]}]`},
		{"5.3 lists", "1. a\n2. b", `[{"kind":"list","ordered":true,"items":[[{"kind":"para","spans":[{"text":"a"}]}],[{"kind":"para","spans":[{"text":"b"}]}]]}]`},
		{"6.1 code span", "`a*b`", `[{"kind":"para","spans":[{"text":"a*b","code":true}]}]`},
		{"6.2 emphasis", "*a* **b**", `[{"kind":"para","spans":[{"text":"a","em":true},{"text":" "},{"text":"b","strong":true}]}]`},
		{"6.3 link", "[a](https://example.org/?x=1&y)", `[{"kind":"para","spans":[{"text":"a","href":"https://example.org/?x=1\u0026y"}]}]`},
		{"6.3 link, forbidden", "[a](javascript:alert(1))", `[{"kind":"para","spans":[{"text":"a"}]}]`},
		{"6.3 link, forbidden by entity", "[a](java&#115;cript:alert(1))", `[{"kind":"para","spans":[{"text":"a"}]}]`},
		{"6.4 picture", "![alt](x.png)", `[{"kind":"para","spans":[{"text":"alt"}]}]`},
		{"6.5 autolink", "<https://example.org>", `[{"kind":"para","spans":[{"text":"https://example.org","href":"https://example.org"}]}]`},
		{"6.6 raw HTML", "a <b onclick=x>b</b>", `[{"kind":"para","spans":[{"text":"a b"}]}]`},
		{"6.7 hard break", "a  \nb", `[{"kind":"para","spans":[{"text":"a"},{"text":"","break":true},{"text":"b"}]}]`},
		{"empty", "", `null`},
	} {
		got, err := json.Marshal(Markdown(c.body, 4))
		if err != nil {
			t.Fatal(err)
		}
		plain := strings.NewReplacer(`\u003c`, "<", `\u003e`, ">").Replace(string(got))
		plain = strings.ReplaceAll(plain, `© \u0026 #`, `© & #`)
		if plain != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, plain, c.want)
		}
	}
}

func TestSafeLink(t *testing.T) {
	for in, want := range map[string]string{
		"https://example.org/a": "https://example.org/a", "HTTP://example.org": "http://example.org", "mailto:a@example.org": "mailto:a@example.org",
		"#wiring": "#wiring", "photos/a.jpg": "photos/a.jpg",
		"javascript:alert(1)": "", "JaVaScRiPt:alert(1)": "", " javascript:alert(1)": "", "data:text/html,x": "", "//example.org": "", "/etc/passwd": "", "../x": "",
		"a/../../x": "", "java\tscript:x": "", "https:": "", "file:///x": "", `\\host\x`: "", "vbscript:x": "", "": "",
	} {
		if got := SafeLink(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

// FuzzMarkdown: no text may panic, hang, or bring an address that a page may not have.
func FuzzMarkdown(f *testing.F) {
	for _, s := range []string{"# a\n\n- b\n  1. c\n\n> d\n\n`e`\n\n| a | b |\n|---|--:|\n| c | d |\n", "[x](javascript:1)", "![[[[[[", "<https://a.b>", strings.Repeat("> ", 200), "&#0;\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, body string) {
		blocks := Markdown(body, 4)
		eachSpan(blocks, func(s *Span) {
			if s.Href != SafeLink(s.Href) {
				t.Errorf("address %q", s.Href)
			}
		})
		in := hook()
		in.Design.Title.V = "x"
		sheet := Compose(in)
		sheet.Sections = append(sheet.Sections, Section{ID: "fuzz", Title: "x", Blocks: blocks})
		if m := malformed(printed(t, sheet, nil)); m != "" {
			t.Error(m)
		}
	})
}
