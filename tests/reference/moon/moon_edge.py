"""The Moon's true edge as one place sees it, and second and third contact at that edge.

Edge
    At a position angle the edge is the largest apparent radius over the surface points in that direction, from
    8 degrees before to 8 degrees behind the plane through the Moon's centre across the line of sight, in true
    perspective from the site: a point at radius r, at angle b towards the observer, stands
    tan(a) = r cos b / (D - r sin b) from the direction of the centre of mass at distance D. Edges are given as
    **apparent radius in km at the Moon's distance**, D sin(a): for a sphere that is the sphere's own radius.

Contact
    The instant at which the last point of the Sun's disc passes the edge, over all position angles about the
    Moon's centre: the largest of (reach of the Sun's disc minus edge) is zero. Totality is the interval about the
    deepest instant in which that largest value is not positive. Directions are exact on the sphere of the sky.

Sampling
    First every 0.05 degrees in position angle and in depth. Then four times over the candidates, those that a
    surface no steeper than SLOPE could make the largest, are sampled four times as densely, to 0.0002 degrees
    (6 m). check.py shows what halving and coarsening all of it does.
"""
import numpy as np

import lunar_grid
import topocentric as topo

ARCSEC = np.pi / 180.0 / 3600.0
AU_KM = topo.AU_KM
SUN_ARCSEC = 959.95                                   # at 1 au: Quaglia et al. 2021, ApJS 256, 36
SUN_KM = 696221.0
DEPTH_DEG = 8.0
STEP_DEG = 0.05
LEVELS = 4
SLOPE = 0.45                                          # tangent that counts for candidates; check.py shows that twice as much changes nothing
LOWEST_KM = 1731.0                                    # no edge is lower (asserted): position angles that cannot matter are left out
KM_PER_DEG = np.pi / 180.0 * lunar_grid.SPHERE_KM


class Sky:
    """Sun and Moon at n instants from one site, in the frame of the Moon's disc.

    `look`, `north`, `east`: unit vectors (ICRS) to the Moon's centre, and on the sky towards the Moon's own north
    and east of it; `sun_n`, `sun_e`, `sun_l`: the Sun's centre along them; `body`: ICRS to the Moon's frame.
    """

    def __init__(self, epoch_jd, tt_s, delta_t_s, site_itrs, sun_km=SUN_KM):
        tt_s = np.atleast_1d(np.asarray(tt_s, dtype=float))
        n = len(tt_s)
        view = topo.View(epoch_jd, tt_s, np.full(n, float(delta_t_s)), np.broadcast_to(site_itrs, (n, 3)))
        sun_distance, self.distance = view.distances()
        self.sun_radius = np.arcsin(sun_km / sun_distance)
        self.look = view.moon / self.distance[:, None]
        self.sun = view.sun / sun_distance[:, None]
        self.body = lunar_grid.orientation(epoch_jd, view.tdb_s - self.distance / topo.LIGHT_KM_S)
        self.axis = self.body[:, 2, :]
        self.pole = view.matrix[:, 2, :]              # celestial pole of date
        east = np.cross(self.axis, self.look)
        self.east = east / np.linalg.norm(east, axis=1)[:, None]
        self.north = np.cross(self.look, self.east)
        self.sun_n, self.sun_e, self.sun_l = (np.sum(self.sun * v, axis=1) for v in (self.north, self.east, self.look))
        self.view = view

    def reach(self, theta):
        """Largest angle from the Moon's centre that the Sun's disc reaches at position angles `theta` (radians); (n, len)."""
        across = self.sun_n[:, None] * np.cos(theta) + self.sun_e[:, None] * np.sin(theta)
        along = np.broadcast_to(self.sun_l[:, None], across.shape)
        ratio = np.cos(self.sun_radius)[:, None] / np.hypot(across, along)
        return np.where(ratio <= 1.0, np.arctan2(across, along) + np.arccos(np.minimum(ratio, 1.0)), -np.inf)

    def excess(self, theta, edge_km, lower_rad=0.0):
        """Reach of the Sun's disc minus the edge, radians; (n, len(theta))."""
        return self.reach(theta) - np.arcsin(edge_km / self.distance[:, None]) + lower_rad

    def libration(self, k=0):
        """Longitude and latitude of the point of the Moon under the observer, and the position angle of the Moon's axis
        from celestial north of date through east; degrees."""
        under = -self.body[k] @ self.look[k]
        east = np.cross(self.pole[k], self.look[k])
        north = np.cross(self.look[k], east)
        return (np.degrees(np.arctan2(under[1], under[0])), np.degrees(np.arcsin(under[2])),
                np.degrees(np.arctan2(self.axis[k] @ east, self.axis[k] @ north)))

    def sun_position_angle(self, theta, k=0):
        """Position angle about the Sun's centre, from celestial north of date through east, of the point of the Sun's
        limb farthest out at `theta` (radians, from the Moon's axis, about the Moon's centre); degrees."""
        a = self.reach(np.array([theta]))[k, 0]
        point = np.cos(a) * self.look[k] + np.sin(a) * (np.cos(theta) * self.north[k] + np.sin(theta) * self.east[k])
        east = np.cross(self.pole[k], self.sun[k])
        north = np.cross(self.sun[k], east)
        return np.degrees(np.arctan2(point @ east, point @ north)) % 360.0


class Edge:
    """The Moon's edge at one instant of a Sky. Position angles from the Moon's axis, through celestial east."""

    def __init__(self, grid, sky, k=0, step_deg=STEP_DEG, levels=LEVELS):
        self.grid, self.distance = grid, sky.distance[k]
        self.frame = [sky.body[k] @ v[k] for v in (sky.north, sky.east, sky.look)]
        self.step, self.levels = step_deg, levels
        self.unit = step_deg / 4 ** levels            # all nodes are whole multiples of this, degrees
        self.turn = 4 ** levels

    def apparent_km(self, i, j, kind=np.float64):
        """Apparent radius of the surface points at position angle i and depth j (whole units), km."""
        theta, depth = np.radians(i * self.unit), np.radians(j * self.unit)
        ct, st, cb, sb = (f(a).astype(kind) for a in (theta, depth) for f in (np.cos, np.sin))
        north, east, look = (v.astype(kind) for v in self.frame)
        r = self.grid.radius_km([(north[a] * ct + east[a] * st) * cb - look[a] * sb for a in range(3)], kind)
        d = kind(self.distance)
        return d * r * cb / np.sqrt(d * d - 2 * d * r * sb + r * r)

    def coarse(self, wanted):
        """Nodes of the first level: indices of position angle (where `wanted(theta)`), of depth, and the radii (2-D).

        In single precision (a metre), for it only tells where to look closer.
        """
        i = np.arange(round(360.0 / self.step)) * self.turn
        i = i[wanted(np.radians(i * self.unit))]
        half = round(DEPTH_DEG / self.step)
        j = np.arange(-half, half + 1) * self.turn
        return i, j, self.apparent_km(i[:, None], j[None, :], np.float32)

    def refined(self, coarse, excess, slack_rad=0.0, levels=None):
        """Position angles (radians) and edge (km) of the finest nodes that can hold the largest `excess(theta, edge_km)`,
        or come within `slack_rad` of it. `levels`: fewer than all, for a first look."""
        i, j, radius = coarse
        best = radius.max(axis=1)
        gap = excess(np.radians(i * self.unit), best)
        rise = SLOPE * 0.5 * self.step * KM_PER_DEG   # what half a step can hide, km
        at, point = np.nonzero((radius > (best - rise)[:, None]) & (gap > gap.max() - 2.0 * rise / self.distance - slack_rad)[:, None])
        pi, pj = i[at], j[point]
        step = self.turn
        for _ in range(self.levels if levels is None else levels):
            step //= 4
            offsets = np.arange(-2, 2) * step             # with its neighbours' that covers half a step to either side
            key = ((pi[:, None, None] + offsets[None, :, None] + (1 << 24)) * (1 << 24) + pj[:, None, None] + offsets[None, None, :] + (1 << 23)).ravel()
            key.sort()
            ci, cj = (key >> 24) - (1 << 24), (key & ((1 << 24) - 1)) - (1 << 23)
            radius = self.apparent_km(ci, cj)
            first = np.flatnonzero(np.r_[True, ci[1:] != ci[:-1]])
            best = np.maximum.reduceat(radius, first)
            nodes = ci[first]
            gap = excess(np.radians(nodes * self.unit), best)
            rise *= 0.25
            keep = (radius > np.repeat(best, np.diff(np.r_[first, len(ci)])) - rise)
            keep &= np.repeat(gap > gap.max() - 2.0 * rise / self.distance - slack_rad, np.diff(np.r_[first, len(ci)]))
            pi, pj = ci[keep], cj[keep]
        return np.radians(nodes * self.unit), best

    def at(self, theta_deg):
        """Edge (km) at chosen position angles, by the same refinement along the depth alone."""
        theta = np.round(np.asarray(theta_deg) / self.unit).astype(int)
        half = round(DEPTH_DEG / self.step)
        j = np.arange(-half, half + 1) * self.turn
        out = np.empty(len(theta))
        for n, i in enumerate(theta):
            pj, step, rise = j, self.turn, SLOPE * 0.5 * self.step * KM_PER_DEG
            for level in range(self.levels + 1):
                radius = self.apparent_km(np.full(len(pj), i), pj)
                pj = pj[radius > radius.max() - rise]
                step, rise = step // 4, rise * 0.25
                if level < self.levels:
                    pj = np.unique((pj[:, None] + np.arange(-2, 3) * step).ravel())
            out[n] = radius.max()
        return out


class Place:
    """One site at one eclipse: everything needed to find its true contacts."""

    def __init__(self, grid, epoch_jd, lat, lon, elevation_m, delta_t_s, sun_km=SUN_KM, lower_arcsec=0.0, step_deg=STEP_DEG, levels=LEVELS):
        self.grid, self.epoch_jd, self.delta_t_s, self.sun_km = grid, epoch_jd, delta_t_s, sun_km
        self.site = topo.geocentric_itrs(np.array([lat]), np.array([lon]), np.array([elevation_m]))[0]
        self.lower = lower_arcsec * ARCSEC
        self.step, self.levels = step_deg, levels

    def sky(self, tt_s):
        return Sky(self.epoch_jd, tt_s, self.delta_t_s, self.site, self.sun_km)

    def edge_near(self, tt_s, spare_km=12.0):
        """First-level nodes at an instant, for the position angles that can matter within some seconds of it."""
        sky = self.sky(tt_s)
        edge = Edge(self.grid, sky, 0, self.step, self.levels)
        limit = np.arcsin((LOWEST_KM - spare_km) / sky.distance[0]) - self.lower
        coarse = edge.coarse(lambda theta: sky.reach(theta)[0] > limit)
        if len(coarse[0]):
            assert coarse[2].max(axis=1).min() > LOWEST_KM
        return edge, coarse

    def largest(self, tt_s, theta, edge_km):
        return self.sky(tt_s).excess(theta, edge_km, self.lower).max(axis=1)

    def refine_at(self, edge, coarse, tt_s, slack_rad=0.0, levels=None):
        sky = self.sky(tt_s)
        return edge.refined(coarse, lambda theta, km: sky.excess(theta, km, self.lower)[0], slack_rad, levels)

    def deepest(self, near_s, lent=None):
        """Instant and value (radians) of the least of the largest excess: positive where there is no totality.

        There the edge is touched on two sides or more at once, so what comes close to the largest is refined with it.
        `lent`: what `edge_near` gave for a site within a kilometre and an instant near this one, to save making it again.
        """
        t, made = near_s, None
        for turn in range(12):
            if made is None or (abs(t - made) > 1.0 and lent is None):
                edge, coarse = lent or self.edge_near(t)
                made, kept, first_look = t, [], True
                nodes = np.radians(coarse[0] * edge.unit), coarse[2].max(axis=1)
                low, high = t - 40.0, t + 40.0
            else:
                low, high = t - 3.0, t + 3.0
                if first_look:
                    nodes, first_look = self.refine_at(edge, coarse, t, 0.2 * ARCSEC, 2), False
                else:
                    kept.append(self.refine_at(edge, coarse, t, 0.02 * ARCSEC))
                    nodes = np.concatenate([k[0] for k in kept]), np.concatenate([k[1] for k in kept])
            while high - low > 2e-4:
                grid = np.linspace(low, high, 17)
                k = int(np.argmin(self.largest(grid, *nodes)))
                low, high = grid[max(k - 1, 0)], grid[min(k + 1, 16)]
            before, t = t, 0.5 * (low + high)
            if len(kept) >= 2 and abs(t - before) < 2e-3:
                break
        return t, float(self.largest(t, *nodes)[0])

    def contact(self, near_s, inside_s, outward):
        """True contact near `near_s`, walking from `inside_s` (covered) outward (-1: second, +1: third contact).

        Returns a dict: tt_s, theta (radians from the Moon's axis), position_angle (about the Sun), rate (arcsec/s).
        """
        t, made = near_s, None
        for turn in range(8):
            if made is None or abs(t - made) > 0.5:
                edge, coarse = self.edge_near(t, 12.0 if made is None else 4.0)
                made = t
            if turn == 0:
                nodes = np.radians(coarse[0] * edge.unit), coarse[2].max(axis=1)
            else:
                nodes = self.refine_at(edge, coarse, t)
            before, t = t, self._crossing(nodes, t, inside_s, outward, wide=turn == 0)
            if turn >= 2 and abs(t - before) < 5e-4:
                break
        sky = self.sky([t - 0.05, t, t + 0.05])
        excess = sky.excess(nodes[0], nodes[1], self.lower)
        k = int(np.argmax(excess[1]))
        return dict(tt_s=t, theta=float(nodes[0][k]), position_angle=float(sky.sun_position_angle(nodes[0][k], 1)),
                    rate=float(abs(excess[2, k] - excess[0, k]) / 0.1 / ARCSEC), residual_s=abs(t - before))

    def _crossing(self, nodes, t, inside_s, outward, wide):
        """First instant, going outward, at which something of the Sun stands outside the edge."""
        if wide:
            start = inside_s if abs(inside_s - t) < 25.0 else t - outward * 20.0
            while self.largest(start, *nodes)[0] > 0.0 and abs(start - inside_s) > 1.0:
                start -= outward * min(5.0, abs(start - inside_s))
            step = 0.25
        else:
            start, step = t - outward * min(1.0, max(0.0, outward * (t - inside_s))), 0.1
            while self.largest(start, *nodes)[0] > 0.0 and outward * (start - inside_s) > 0.05:
                start -= outward * min(1.0, outward * (start - inside_s))
        for _ in range(200):
            grid = start + outward * step * np.arange(0, 25)
            value = self.largest(grid, *nodes)
            out = np.flatnonzero(value[1:] > 0.0)
            if len(out):
                k = out[0]
                low, high = grid[k], grid[k + 1]
                break
            start = grid[-1]
        while abs(high - low) > 1e-4:
            grid = np.linspace(low, high, 9)
            value = self.largest(grid, *nodes)
            out = np.flatnonzero(value[1:] > 0.0)
            k = out[0] if len(out) else 7
            low, high = grid[k], grid[k + 1]
        return 0.5 * (low + high)

    def contacts(self, c2_s, c3_s, middle_s, smooth_depth_rad):
        """Second and third contact as dicts, or (None, None) where the edge leaves no totality; and the least, over the
        instants, of the largest excess (radians; minus infinity, not looked for, where the smooth Moon covers the Sun
        by more than 5 arcseconds on every side).

        `c2_s`, `c3_s`: the smooth contacts (NaN where there is none), `middle_s`: least separation,
        `smooth_depth_rad`: by how much the smooth Moon covers at most.
        """
        smooth = np.isfinite(c2_s)
        if smooth and smooth_depth_rad > 5.0 * ARCSEC:
            inside, depth = 0.5 * (c2_s + c3_s), -np.inf
        else:
            inside, depth = self.deepest(0.5 * (c2_s + c3_s) if smooth else middle_s)
            if depth > 0.0:
                return None, None, depth
        second = self.contact(c2_s if smooth else inside, inside, -1)
        third = self.contact(c3_s if smooth else inside, inside, +1)
        return second, third, depth
