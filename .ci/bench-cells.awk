# Makes a monthly table of n places out of the demo's: each has the clearness,
# wind and humidity of a cell of data/halvane/climate.csv at a latitude of its own,
# from 50° south to 55° north. Invented weather: for measuring time alone.
#
#	awk -v n=1000 -f .ci/bench-cells.awk data/halvane/climate.csv
BEGIN {
	FS = ","
	pi = atan2(0, -1)
	split("17 47 75 105 135 162 198 228 258 288 318 344", middle, " ") # of each month, day of the year
	print "site_id,name,country,lat,lon,elevation_m,cell_deg,month,ghi_w_m2,air_temperature_c,wind_speed_m_s,relative_humidity_percent"
}

# outside is the daily mean irradiance outside the atmosphere, W/m².
function outside(lat, month,   day, d, c, w) {
	day = middle[month]
	d = 23.45 * pi / 180 * sin(2 * pi * (284 + day) / 365)
	lat *= pi / 180
	c = -sin(lat) / cos(lat) * sin(d) / cos(d)
	w = atan2(sqrt(1 - c * c), c)
	return 1361 / pi * (1 + 0.033 * cos(2 * pi * day / 365)) * (cos(lat) * cos(d) * sin(w) + w * sin(lat) * sin(d))
}

/^HV/ { cell[cells++] = $0 }

END {
	for (i = 0; i < n; i++) {
		split(cell[i % cells], f, ",")
		lat = -50 + 105 * (i + 0.5) / n
		for (m = 1; m <= 12; m++) {
			of = lat < 0 ? (m + 5) % 12 + 1 : m
			colder = 0.4 * ((lat < 0 ? -lat : lat) - f[4])
			printf "B%05d,place %d,,%.4f,%.4f,%s,0.25,%d,%.1f,%.1f,%.1f,%s\n", i, i, lat, i * 7 % 360 - 180, f[6], m,
				f[7 + of] / outside(f[4], of) * outside(lat, m), f[19 + of] - colder, f[31 + of], f[43 + of]
		}
	}
}
