package simulate

import (
	"testing"

	"stillrow/simulate/collector"
)

// The comings and goings of the water over a year, counted against the sun:
// drained nights begin with the first hour without sun and end by refilling in
// sunlit hours; held nights know neither; a locked day empties the receiver at
// midnight, and its water comes back at the next unlocked midnight.
func TestEventsOfTheWater(t *testing.T) {
	s := madeSite(41)
	y := madeYear(s)
	drain, hold := testReceiver(collector.Drain), testReceiver(collector.Hold)
	sy := newSiteYear(newAlmanac(), s, y, &drain)
	nights := 0
	for h, e := range sy.events {
		dusk := h > 0 && sy.sky[h-1].sunlit() && !sy.sky[h].sunlit()
		if e.Leave != dusk || e.Refill != sy.sky[h].sunlit() || e.Return {
			t.Fatalf("drain, hour %d, sunlit %v: %+v", h, sy.sky[h].sunlit(), e)
		}
		if dusk {
			nights++
		}
	}
	if nights != 365 {
		t.Errorf("%d drained nights, want 365", nights)
	}
	for h, e := range newSiteYear(newAlmanac(), s, y, &hold).events {
		if e != (collector.Event{}) {
			t.Fatalf("hold, hour %d: %+v", h, e)
		}
	}

	// A day whose mean equals the limit is not below it, also where neither is
	// exact in binary.
	for h := range 48 {
		y.AirTemperature[h] = 10.3 + .2*float32(h%2)
		if h >= 24 {
			y.AirTemperature[h] -= .001
		}
	}
	hold.FrostLock = 10.4
	if e := newSiteYear(newAlmanac(), s, y, &hold).events; e[0].Leave || !e[24].Leave {
		t.Errorf("means of 10.4 and 10.399 °C, limit 10.4: locked %v and %v", e[0].Leave, e[24].Leave)
	}

	// Three days of snow, 10 to 12 January: days 9 to 11.
	for h := 9 * 24; h < 12*24; h++ {
		y.Snow[h] = 3
	}
	hold.FrostLock, drain.FrostLock = -40, -40
	held, drained := newSiteYear(newAlmanac(), s, y, &hold), newSiteYear(newAlmanac(), s, y, &drain)
	for h := 9 * 24; h < 13*24; h++ {
		locked, midnight := h < 12*24, h%24 == 0
		want := collector.Event{Leave: locked && midnight, Return: !locked && midnight}
		if held.events[h] != want {
			t.Errorf("hold with snow, hour %d: %+v, want %+v", h, held.events[h], want)
		}
		if e := drained.events[h]; e.Return || locked && (e.Refill || e.Leave != midnight) {
			t.Errorf("drain with snow, hour %d: %+v", h, e)
		}
	}
}
