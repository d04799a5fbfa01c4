package outlook

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"
	"time"
)

// within says whether a simulated chance agrees with the exact one: four standard errors are passed once in
// sixteen thousand, and the seed is fixed.
func within(got, want float64, runs int) bool {
	se := math.Max(math.Sqrt(want*(1-want)/float64(runs)), 1/float64(runs))
	return math.Abs(got-want) <= 4*se
}

func TestTheJudgeSaysNo(t *testing.T) {
	if within(0.52, 0.5, Runs) || within(0.01, 0, Runs) || !within(0.505, 0.5, Runs) {
		t.Error("within is too wide or too narrow")
	}
}

// Deterministic durations: every chance is 0 or 1, by hand.
func TestDeterministic(t *testing.T) {
	seven := Sample{7}
	tasks := []Task{{ID: 1, Due: 7}, {ID: 2, Due: 13.9}, {ID: 3, Due: 21}, {ID: 4, Due: 30, NoWork: true}, {ID: 5, Due: 28}}
	c := Simulate(tasks, seven, 500, Seed)
	if want := []float64{1, 0, 1, 1, 1}; !reflect.DeepEqual(c.Each, want) || c.All != 0 {
		t.Errorf("%v, all %v", c.Each, c.All)
	}
	// One finished now: the others end at 7, 14, 21: the second is due at 13.9 and ends at 7.
	if want := []float64{0, 1, 1, 1, 1}; !reflect.DeepEqual(c.More, want) {
		t.Errorf("more: %v", c.More)
	}
	// The order of the tasks does not matter, only that of their days.
	swapped := []Task{tasks[4], tasks[2], tasks[0], tasks[3], tasks[1]}
	if c := Simulate(swapped, seven, 500, Seed); !reflect.DeepEqual(c.Each, []float64{1, 1, 1, 1, 0}) {
		t.Errorf("%v", c.Each)
	}
	// A missed week is still to be done and takes its time, and does not count against all.
	late := []Task{{ID: 1, Due: -3, Missed: true}, {ID: 2, Due: 13}, {ID: 3, Due: 21}}
	if c := Simulate(late, seven, 500, Seed); !reflect.DeepEqual(c.Each, []float64{0, 0, 1}) || c.All != 0 || !reflect.DeepEqual(c.More, []float64{0, 1, 1, 1}) {
		t.Errorf("%+v", c)
	}
	// Nothing to do: kept.
	if c := Simulate([]Task{{ID: 1, Due: 1, NoWork: true}}, seven, 500, Seed); c.All != 1 || !reflect.DeepEqual(c.More, []float64{1}) {
		t.Errorf("%+v", c)
	}
}

// One remaining design: the chance is the share of durations up to its day; begun, the share among the longer
// ones.
func TestOneRemaining(t *testing.T) {
	history := Sample{3, 4, 5, 6, 8, 9, 12}
	prior := Prior{3, 5, 12}
	for _, c := range []struct {
		d     Durations
		due   float64
		begun float64
		want  float64
	}{
		{history, 5, 0, 3.0 / 7},
		{history, 11.5, 0, 6.0 / 7},
		{history, 2, 0, 0},
		{history, 12, 0, 1},
		{history, 2, 4.5, 2.0 / 5}, // of 5, 6, 8, 9, 12 only 5 and 6 leave up to 2
		{prior, 5, 0, 2.0 / 9},     // (5-3)^2 / ((12-3)(5-3)) = 4/18
		{prior, 8, 0, 1 - 16.0/63}, // 1 - (12-8)^2 / ((12-3)(12-5))
		{prior, 3, 5, 1 - (16.0/63)/(7.0/9)},
		{geometric(0.25), 3, 0, 1 - math.Pow(0.75, 3)},
	} {
		got := Simulate([]Task{{ID: 1, Due: c.due, Begun: c.begun}}, c.d, Runs, Seed)
		if !within(got.All, c.want, Runs) || got.Each[0] != got.All {
			t.Errorf("%v due %v begun %v: got %.4f, want %.4f", c.d, c.due, c.begun, got.All, c.want)
		}
		if se := math.Sqrt(got.All * (1 - got.All) / Runs); got.StandardError < se {
			t.Errorf("standard error %v, want at least %v", got.StandardError, se)
		}
	}
}

// geometric is the number of days until one on which it is done, with the same chance every day.
type geometric float64

func (g geometric) Draw(r *rand.Rand) float64 {
	n := 1.0
	for r.Float64() >= float64(g) {
		n++
	}
	return n
}

func (g geometric) Median() float64 { return math.Ceil(math.Log(0.5) / math.Log(1-float64(g))) }

func (g geometric) Remaining(r *rand.Rand, _ float64) float64 { return g.Draw(r) } // it has no memory

// Geometric durations: the sum of k is negative binomial, so each week's chance has a closed form: the k-th
// success comes by day n exactly when n trials have k successes or more. That all are met follows day by day.
func TestGeometric(t *testing.T) {
	const p = 0.3
	due := []int{4, 8, 11, 18, 20}
	var tasks []Task
	for i, n := range due {
		tasks = append(tasks, Task{ID: i + 1, Due: float64(n)})
	}
	got := Simulate(tasks, geometric(p), Runs, Seed)
	for i, n := range due {
		want := 0.0
		for k := i + 1; k <= n; k++ {
			want += choose(n, k) * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
		}
		if !within(got.Each[i], want, Runs) {
			t.Errorf("week %d: got %.4f, want %.4f", i+1, got.Each[i], want)
		}
	}
	for first := range due { // with the first so many finished now
		if want := allByDay(due[first:], p); !within(got.More[first], want, Runs) {
			t.Errorf("all with %d more: got %.4f, want %.4f", first, got.More[first], want)
		}
	}
	if got.All != got.More[0] {
		t.Errorf("all %v, with none more %v", got.All, got.More[0])
	}
	if within(got.Each[4], allByDay(due, p), Runs) {
		t.Error("the last alone is told from all")
	}
}

func choose(n, k int) float64 {
	x := 1.0
	for i := range k {
		x = x * float64(n-i) / float64(i+1)
	}
	return x
}

// allByDay is the chance that the k-th success comes by day due[k], for all k: states of the successes so far.
func allByDay(due []int, p float64) float64 {
	state := make([]float64, len(due)+1)
	state[0] = 1
	for d := 1; d <= due[len(due)-1]; d++ {
		for k := len(due) - 1; k >= 0; k-- {
			state[k+1] += state[k] * p
			state[k] *= 1 - p
		}
		for k, n := range due {
			if d == n {
				for j := range k + 1 {
					state[j] = 0
				}
			}
		}
	}
	return state[len(due)]
}

// The same seed gives the same, whatever the number of processors; another seed another, and a task draws the
// same luck whatever stands before it.
func TestRepeatable(t *testing.T) {
	var tasks []Task
	for i := range 52 {
		tasks = append(tasks, Task{ID: i + 1, Due: float64(7*i + 9)})
	}
	d := Sample{3, 4, 6, 7, 8, 13}
	one := Simulate(tasks, d, Runs, Seed)
	old := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(old)
	for _, n := range []int{1, 2, 3, 8} {
		runtime.GOMAXPROCS(n)
		if again := Simulate(tasks, d, Runs, Seed); !reflect.DeepEqual(one, again) {
			t.Errorf("on %d processors it differs", n)
		}
	}
	if other := Simulate(tasks, d, Runs, Seed+1); reflect.DeepEqual(one, other) {
		t.Error("the seed does nothing")
	}
	// Dropping the first never makes a later one less likely, run by run.
	less := Simulate(tasks[1:], d, Runs, Seed)
	for i, c := range less.Each {
		if c < one.Each[i+1] {
			t.Errorf("week %d: %v without the first, %v with it", i+2, c, one.Each[i+1])
		}
	}
}

// The mean and the quantiles of the prior are those of the triangular distribution.
func TestPrior(t *testing.T) {
	p := Prior{3, 5, 12}
	const tol = 1e-9
	for u := 0.0; u <= 1; u += 0.01 {
		if math.Abs(p.share(p.at(u))-u) > tol {
			t.Errorf("share(at(%v)) = %v", u, p.share(p.at(u)))
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	sum, n := 0.0, 100_000
	for range n {
		sum += p.Draw(r)
	}
	if mean := sum / float64(n); math.Abs(mean-20.0/3) > 0.02 { // (3+5+12)/3; the standard error is 0.006
		t.Errorf("mean %v", mean)
	}
	if m := p.Median(); math.Abs(m-(12-math.Sqrt(0.5*9*7))) > tol {
		t.Errorf("median %v", m)
	}
	if (Prior{4, 4, 4}).Draw(r) != 4 || (Prior{4, 4, 4}).Median() != 4 {
		t.Error("a prior of one value")
	}
	if x := (Prior{3, 5, 12}).Remaining(r, 40); x < 3 || x > 12 {
		t.Error(x)
	}
}

func at(text string) time.Time {
	x, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return x
}

func TestWorkdays(t *testing.T) {
	w := newWorkdays([]Away{{at("2027-02-10 00:00"), at("2027-02-13 00:00")}, {at("2027-02-01 00:00"), at("2027-02-06 00:00")}, {at("2027-02-05 00:00"), at("2027-02-07 00:00")}})
	for _, c := range []struct {
		from, to string
		days     float64
	}{
		{"2027-01-30 12:00", "2027-01-31 12:00", 1},
		{"2027-01-30 00:00", "2027-02-08 00:00", 3}, // 30, 31 January, 7 February
		{"2027-02-02 00:00", "2027-02-03 00:00", 0},
		{"2027-02-09 00:00", "2027-02-14 12:00", 2.5},
		{"2027-02-14 12:00", "2027-02-09 00:00", -2.5},
		{"2027-01-31 00:00", "2027-02-15 00:00", 6}, // 15 less 6 and 3,
	} {
		if got := w.between(at(c.from), at(c.to)); math.Abs(got-c.days) > 1e-9 {
			t.Errorf("%s to %s: %v, want %v", c.from, c.to, got, c.days)
		}
	}
	// add undoes between, up to the leave that a moment may lie in.
	r := rand.New(rand.NewPCG(3, 4))
	for range 5000 {
		from := at("2027-01-25 00:00").Add(time.Duration(r.Int64N(int64(30 * day))))
		days := r.Float64()*40 - 20
		to := w.add(from, days)
		if got := w.between(from, to); math.Abs(got-days) > 1e-6 {
			t.Fatalf("%v + %v = %v, which is %v away", from, days, to, got)
		}
	}
	if got := w.add(at("2027-01-31 00:00"), 1); !got.Equal(at("2027-02-01 00:00")) {
		t.Error("the earliest moment:", got)
	}
	if got := w.add(at("2027-02-08 00:00"), -1); !got.Equal(at("2027-02-07 00:00")) {
		t.Error("the latest moment:", got)
	}
}

// Two designs in hand at once: the second counts from when the first was done.
func TestTook(t *testing.T) {
	leave := newWorkdays([]Away{{at("2027-02-01 00:00"), at("2027-02-06 00:00")}})
	got := took([]Work{
		{Design: "c", First: at("2027-01-20 00:00"), Last: at("2027-02-08 00:00")},
		{Design: "a", First: at("2027-01-01 00:00"), Last: at("2027-01-08 12:00")},
		{Design: "b", First: at("2027-01-05 00:00"), Last: at("2027-01-12 12:00")},
		{Design: "laid-in", First: at("2027-01-10 00:00"), Last: at("2027-01-10 00:00"), Once: true},
		{Design: "unknown"},
	}, leave)
	var days []float64
	for _, x := range got {
		days = append(days, x.Days)
	}
	if want := []float64{7.5, 4, 14}; !reflect.DeepEqual(days, want) { // 20 January to 8 February: 19 less 5 of leave
		t.Errorf("%v", got)
	}
}

var sink Chances

// BenchmarkOdds is the whole simulation: 52 weeks, 10,000 runs.
func BenchmarkOdds(b *testing.B) {
	var tasks []Task
	for i := range 52 {
		tasks = append(tasks, Task{ID: i + 1, Due: float64(7*i + 9)})
	}
	for name, d := range map[string]Durations{"history": Sample{3, 4, 6, 7, 8, 13}, "prior": Prior{3, 5, 12}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				sink = Simulate(tasks, d, Runs, Seed)
			}
		})
	}
}

func TestPercent(t *testing.T) {
	for _, x := range []struct {
		p      float64
		finest int
		want   string
	}{{0, 10, "0 %"}, {1, 10, "100 %"}, {0.04, 10, "up to 10 %"}, {0.97, 10, "90 % or more"}, {0.44, 10, "40 %"}, {0.46, 10, "50 %"}, {0.456, 1, "46 %"}, {0.004, 1, "0 %"}} {
		if got := Percent(x.p, x.finest); got != x.want {
			t.Errorf("%g to %d %%: %q, expected %q", x.p, x.finest, got, x.want)
		}
	}
}
