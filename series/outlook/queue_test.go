package outlook

import (
	"math"
	"math/rand/v2"
	"testing"
)

// possible tries every printer for every job and every order on each printer: the slow way, without any rule.
func possible(jobs []Job, perDay []float64) bool {
	placed := make([]bool, len(jobs))
	load := make([]float64, len(perDay))
	var next func(n int) bool
	next = func(n int) bool {
		if n == len(jobs) {
			return true
		}
		for i, j := range jobs {
			if placed[i] {
				continue
			}
			for _, m := range j.On {
				ends := load[m] + j.Hours
				if ends > math.Max(j.Due, 0)*perDay[m] {
					continue
				}
				placed[i], load[m] = true, ends
				if next(n + 1) {
					return true
				}
				placed[i], load[m] = false, load[m]-j.Hours
			}
		}
		return false
	}
	return next(0)
}

// The queue is kept exactly when some order of all is: against brute force on small cases, in whole hours.
func TestQueueAgainstBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	verdicts := map[string]int{}
	rescued := 0
	for n := range 4000 {
		machines := 1 + r.IntN(3)
		var perDay []float64
		for range machines {
			perDay = append(perDay, float64(1+r.IntN(3)))
		}
		var jobs []Job
		for range 1 + r.IntN(6) {
			j := Job{Hours: float64(1 + r.IntN(8)), Due: float64(1 + r.IntN(9))}
			for m := range machines {
				if r.IntN(3) > 0 {
					j.On = append(j.On, m)
				}
			}
			if j.On == nil {
				j.On = []int{0}
			}
			jobs = append(jobs, j)
		}
		got := Assign(jobs, perDay)
		want := possible(jobs, perDay)
		if (got.Verdict == Kept) != want || got.Verdict == Unknown {
			t.Fatalf("case %d: %s, brute force says %v: %+v on %v", n, got.Verdict, want, jobs, perDay)
		}
		verdicts[got.Verdict]++
		if late := judge(t, jobs, perDay, got); late != (got.Verdict != Kept) {
			t.Fatalf("case %d: %s, and it is late: %v: %+v", n, got.Verdict, late, got)
		}
		if _, kept := (&search{jobs: jobs, order: orderOf(got, jobs), perDay: perDay}).greedy(); !kept && want {
			rescued++
		}
	}
	if verdicts[Kept] < 500 || verdicts[Impossible] < 500 || rescued < 20 {
		t.Errorf("the cases show little: %v, %d beyond the first guess", verdicts, rescued)
	}
}

// orderOf is the order by due date that Assign works in.
func orderOf(a Assignment, jobs []Job) []int {
	var out []int
	for due := 0.0; due < 20; due++ {
		for i, j := range jobs {
			if j.Due == due {
				out = append(out, i)
			}
		}
	}
	return out
}

// judge holds an assignment against the jobs: nothing overlaps, every job is on a printer that takes it and has
// its whole time. It says whether something is late.
func judge(t *testing.T, jobs []Job, perDay []float64, a Assignment) (late bool) {
	t.Helper()
	for i, j := range jobs {
		m := a.On[i]
		ok := false
		for _, x := range j.On {
			ok = ok || x == m
		}
		if !ok || math.Abs(a.Ends[i]-a.Starts[i]-j.Hours) > 1e-9 {
			t.Fatalf("job %d on %d from %v to %v: %+v", i, m, a.Starts[i], a.Ends[i], j)
		}
		for k := range jobs {
			if k != i && a.On[k] == m && a.Starts[k] < a.Ends[i]-1e-9 && a.Starts[i] < a.Ends[k]-1e-9 {
				t.Fatalf("jobs %d and %d overlap: %+v", i, k, a)
			}
		}
		late = late || a.Ends[i] > j.Due*perDay[m]+1e-9
	}
	return late
}

func TestQueueCorners(t *testing.T) {
	// By hand: 6 h a day; two jobs of 6 h due after 1 and 2 days: kept; a third due then too: not.
	two := []Job{{Hours: 6, On: []int{0}, Due: 2}, {Hours: 6, On: []int{0}, Due: 1}}
	a := Assign(two, []float64{6})
	if a.Verdict != Kept || a.Starts[0] != 6 || a.Starts[1] != 0 {
		t.Errorf("%+v", a)
	}
	if a := Assign(append(two, Job{Hours: 1, On: []int{0}, Due: 2}), []float64{6}); a.Verdict != Impossible || a.Ends[2] != 13 {
		t.Errorf("%+v", a)
	}
	// A day that is past comes first and spoils nothing else.
	if a := Assign([]Job{{Hours: 6, On: []int{0}, Due: 2}, {Hours: 6, On: []int{0}, Due: -4, Missed: true}}, []float64{6}); a.Verdict != Kept || a.Starts[1] != 0 || a.Starts[0] != 6 {
		t.Errorf("%+v", a)
	}
	if a := Assign([]Job{{Hours: 1, Due: 2}}, []float64{6}); a.Verdict != Impossible || a.On[0] != -1 {
		t.Errorf("no printer takes it: %+v", a)
	}
	if a := Assign(nil, []float64{6}); a.Verdict != Kept {
		t.Errorf("%+v", a)
	}
	// Many jobs that nearly fit: it ends, and says so.
	var many []Job
	for i := range 60 {
		many = append(many, Job{Hours: 3 + float64(i%7)/7, On: []int{0, 1, 2}, Due: 9.81})
	}
	if a := Assign(many, []float64{6.7, 6.9, 7.3}); a.Verdict != Unknown {
		t.Errorf("%v", a.Verdict)
	}
}

func BenchmarkQueue(b *testing.B) {
	var jobs []Job
	for i := range 104 * 12 {
		jobs = append(jobs, Job{Hours: 2.5, On: []int{i % 2, (i + 1) % 2}, Due: float64(7 * (i / 12))})
	}
	for b.Loop() {
		Assign(jobs, []float64{60.0 / 7, 30.0 / 7})
	}
}
