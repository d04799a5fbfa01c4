package finding

import "strings"

// Nearest returns the candidate closest to word, or "" when none is close enough to be what was meant:
// at most a third of the longer word's letters differ (optimal string alignment distance: insertions,
// deletions, substitutions and swaps of neighbours).
func Nearest(word string, candidates []string) string {
	best, bestD := "", 1<<30
	w := []rune(strings.ToLower(word))
	if len(w) > 64 {
		return ""
	}
	for _, c := range candidates {
		r := []rune(strings.ToLower(c))
		d := distance(w, r)
		limit := (max(len(w), len(r)) + 1) / 3
		if strings.HasPrefix(string(r), string(w)) && len(w) >= 3 {
			d = min(d, limit) // a word cut short is a good guess
		}
		if d <= limit && (d < bestD || d == bestD && c < best) {
			best, bestD = c, d
		}
	}
	return best
}

func distance(a, b []rune) int {
	prev2 := make([]int, len(b)+1)
	prev := make([]int, len(b)+1)
	cur := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}
