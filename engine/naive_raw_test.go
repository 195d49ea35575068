package engine_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"
)

// raw is a value as it stands in a file.
type raw struct{ v any }

func readRaw(text string) raw {
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		panic(err)
	}
	return raw{v}
}

func (r raw) fields() map[string]any {
	m, _ := r.v.(map[string]any)
	return m
}
func (r raw) at(key string) raw   { return raw{r.fields()[key]} }
func (r raw) has(key string) bool { return r.fields()[key] != nil }
func (r raw) keys() []string      { return slices.Sorted(maps.Keys(r.fields())) }
func (r raw) none() bool          { return r.v == nil }
func (r raw) isMap() bool         { return r.fields() != nil }
func (r raw) truth() bool         { return r.v == true }
func (r raw) text(def string) string {
	switch v := r.v.(type) {
	case nil:
		return def
	case time.Time:
		return v.Format(time.DateOnly)
	}
	return fmt.Sprint(r.v)
}

// number reads one, and tells whether it is one.
func (r raw) number() (float64, bool) {
	switch v := r.v.(type) {
	case int:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

func (r raw) or(def float64) float64 {
	if x, ok := r.number(); ok {
		return x
	}
	return def
}

// list is a list, or one thing that stands for a list of it.
func (r raw) list() (out []raw) {
	items, ok := r.v.([]any)
	if !ok {
		if r.none() {
			return nil
		}
		return []raw{r}
	}
	for _, v := range items {
		out = append(out, raw{v})
	}
	return out
}

func (r raw) texts() (out []string) {
	for _, it := range r.list() {
		out = append(out, it.text(""))
	}
	return out
}

func (r raw) pair() [2]float64 {
	l := r.list()
	return [2]float64{l[0].or(0), l[1].or(0)}
}

func (r raw) numbers() map[string]float64 {
	out := map[string]float64{}
	for key := range r.fields() {
		out[key] = r.at(key).or(0)
	}
	return out
}

// plainly folds a word of the trade: lower case, single spaces.
func plainly(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }
