package likeness

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// copies are what happens to a file on its way: kinds of copies of a shape, and
// whether the copy is of its mirror image.
var copies = []struct {
	name   string
	mirror bool
	of     func(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh
}{
	{"turned", false, func(m *mesh.Mesh, _ *rand.Rand) *mesh.Mesh { return m }},
	{"mirrored", true, func(m *mesh.Mesh, _ *rand.Rand) *mesh.Mesh { return mirrored(m) }},
	{"cut into other facets", false, recut},
	{"roughened, 0.5 % of diagonal", false, func(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh { return noised(m, 0.005, r) }},
	{"decimated, 50 cells on diagonal", false, func(m *mesh.Mesh, _ *rand.Rand) *mesh.Mesh { return decimated(m, 50) }},
}

// TestRecall: every copy, scaled and turned besides, finds its original first
// among all, as the same shape; no two different shapes are called the same;
// no hand is ever told wrong. The table is what compare.go says in words.
func TestRecall(t *testing.T) {
	all := strangers(t)
	var shelf Shelf
	var prints []Print
	for _, s := range all {
		p := printOf(t, s.m)
		prints = append(prints, p)
		shelf.Add(p)
	}
	closest, who, alike, pairs := 1.0, "", 0, 0
	for i := range prints {
		for j := range i {
			d := Distance(prints[i], prints[j])
			if pairs++; d <= Alike {
				alike++
			}
			if d < closest {
				closest, who = d, all[i].name+" and "+all[j].name
			}
		}
	}
	t.Logf("closest of %d different shapes: %.3f, %s; %d of %d pairs called alike", len(all), closest, who, alike, pairs)
	if closest <= SameShape {
		t.Errorf("%s are called the same shape (%.3f)", who, closest)
	}
	r := rand.New(rand.NewPCG(3, 1))
	for _, c := range copies {
		first, told, worst, who, second := 0, 0, 0.0, "", 1.0
		for i, s := range all {
			found := shelf.Nearest(printOf(t, turned(c.of(s.m, r), r)), 2)
			if found[0].Index == i {
				first++
			} else {
				t.Errorf("%s, %s: found %s (%.3f)", s.name, c.name, all[found[0].Index].name, found[0].Apart)
			}
			if found[0].Apart > worst {
				worst, who = found[0].Apart, s.name
			}
			second = min(second, found[1].Apart)
			wrong := Mirrored
			if c.mirror {
				wrong = SameHand
			}
			if found[0].Hand == wrong {
				t.Errorf("%s, %s: says %s", s.name, c.name, found[0].Hand)
			}
			if found[0].Hand != Untold {
				told++
			}
		}
		t.Logf("%-32s found first %d of %d, farthest %.3f (%s), nearest other %.3f, hand told of %d", c.name, first, len(all), worst, who, second, told)
		if worst > SameShape {
			t.Errorf("%s: %s is %.3f from itself", c.name, who, worst)
		}
	}
}

// TestSavedByOthers: files of one shape that came by different ways, from
// different packages or as different formats.
func TestSavedByOthers(t *testing.T) {
	npm := func(name string) *mesh.Mesh { return load(t, oracle.NPM(t, name)) }
	models := func(name string) *mesh.Mesh { return load(t, oracle.File(t, "/usr/share/assimp/models/"+name)) }
	gmsh := func(name string) *mesh.Mesh {
		return load(t, oracle.File(t, "/usr/share/doc/gmsh-doc/doc/gmsh/demos/"+name+".stl.gz"))
	}
	for _, row := range []struct {
		name string
		a, b *mesh.Mesh
		hand Hand
	}{
		// Decimated by someone else to 3 674 facets of 69 664, and its holes closed.
		{"bunny", npm("stl-models/objects/bunny.bin.stl"), smallBunny(t), SameHand},
		{"gearwheel", npm("stl-models/objects/gearwheel.ascii.stl"), npm("stl-models/objects/gearwheel.bin.stl"), Untold},
		{"figure", models("OBJ/WusonOBJ.obj"), models("STL/Wuson.stl"), Untold},
		{"spider", models("STL/Spider_ascii.stl"), models("STL/Spider_binary.stl"), SameHand},
		// Saved with y and z exchanged and the facets turned round: mirrored.
		{"spider of the OBJ", models("OBJ/spider.obj"), models("STL/Spider_binary.stl"), Mirrored},
		{"cube", npm("stl-models/polytopes/cubeLarge.ascii.stl"), models("OBJ/box.obj"), Untold},
		{"ball, once with a hole", models("STL/sphereWithHole.stl"), gmsh("simple_geo/sphere-surf"), Untold},
	} {
		l := Compare(printOf(t, row.a), printOf(t, row.b))
		t.Logf("%s: %.4f, %v", row.name, l.Apart, l.Hand)
		if l.Apart > SameShape/2 || l.Hand != row.hand {
			t.Errorf("%s: %.4f apart, %v", row.name, l.Apart, l.Hand)
		}
	}
	// What makes the spider a mirror image: its corners, exchanged, are those of the STL.
	obj, stl := models("OBJ/spider.obj"), models("STL/Spider_binary.stl")
	a, b := mesh.Measure(obj).Box, mesh.Measure(stl).Box
	k := b.Size()[1] / a.Size()[2]
	for _, p := range obj.V {
		q := p.Sub(a.Min).Scale(k)
		q = b.Min.Add(mesh.Vec{q[0], q[2], q[1]})
		near := b.Size().Len()
		for _, o := range stl.V {
			near = min(near, o.Sub(q).Len())
		}
		if near > 1e-5*b.Size().Len() {
			t.Fatalf("corner %v of the OBJ is no corner of the STL: the two are not mirror images", p)
		}
	}
}

// smallBunny is the npm package bunny, a script that holds two arrays.
func smallBunny(t *testing.T) *mesh.Mesh {
	text, err := os.ReadFile(oracle.NPM(t, "bunny/index.js"))
	if err != nil {
		t.Fatal(err)
	}
	m := &mesh.Mesh{}
	for name, into := range map[string]any{"positions": &m.V, "cells": &m.F} {
		found := regexp.MustCompile(`(?s)exports\.` + name + `\s*=\s*(\[.*?\]\s*\])`).FindSubmatch(text)
		if found == nil {
			t.Fatalf("the package bunny has no %s", name)
		}
		if err := json.Unmarshal(found[1], into); err != nil {
			t.Fatal(fmt.Errorf("%s: %w", name, err))
		}
	}
	h, _ := mesh.Heal(m)
	return h
}
