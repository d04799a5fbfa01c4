package adopt

import (
	"regexp"
	"sync"
)

// pattern is a regular expression that is compiled when it is first asked: there are a hundred of them, and a program
// that adopts nothing should not pay for them when it starts.
type pattern struct {
	compiled func() *regexp.Regexp
}

// lazily makes a pattern. A wrong expression panics when it is first used; TestPatterns uses each.
func lazily(expr string) *pattern {
	p := &pattern{sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expr) })}
	patterns = append(patterns, p)
	return p
}

// patterns are all that there are, for the test.
var patterns []*pattern

func (p *pattern) MatchString(s string) bool { return p.compiled().MatchString(s) }

func (p *pattern) FindString(s string) string { return p.compiled().FindString(s) }

func (p *pattern) FindStringIndex(s string) []int { return p.compiled().FindStringIndex(s) }

func (p *pattern) FindStringSubmatch(s string) []string { return p.compiled().FindStringSubmatch(s) }

func (p *pattern) FindStringSubmatchIndex(s string) []int {
	return p.compiled().FindStringSubmatchIndex(s)
}

func (p *pattern) FindAllString(s string, n int) []string { return p.compiled().FindAllString(s, n) }

func (p *pattern) FindAllStringIndex(s string, n int) [][]int {
	return p.compiled().FindAllStringIndex(s, n)
}

func (p *pattern) FindAllStringSubmatch(s string, n int) [][]string {
	return p.compiled().FindAllStringSubmatch(s, n)
}

func (p *pattern) FindAllStringSubmatchIndex(s string, n int) [][]int {
	return p.compiled().FindAllStringSubmatchIndex(s, n)
}

func (p *pattern) ReplaceAllString(s, to string) string {
	return p.compiled().ReplaceAllString(s, to)
}

func (p *pattern) Split(s string, n int) []string { return p.compiled().Split(s, n) }
