package board

import "testing"

func BenchmarkParse(b *testing.B) {
	text, err := BuiltinText("96boards-ce")
	if err != nil {
		b.Fatal(err)
	}
	Families()
	for b.Loop() {
		Parse("96boards-ce.yaml", text)
	}
}
