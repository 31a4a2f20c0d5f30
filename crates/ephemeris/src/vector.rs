//! Three-vectors and rotation matrices as plain arrays.

/// A vector; the unit is in the name of the variable that holds it.
pub type Vec3 = [f64; 3];

/// A rotation matrix, by rows.
pub type Mat3 = [[f64; 3]; 3];

/// `a + b`.
pub fn add(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// `a − b`.
pub fn sub(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// `s a`.
pub fn scale(a: Vec3, s: f64) -> Vec3 {
    [a[0] * s, a[1] * s, a[2] * s]
}

/// Scalar product.
pub fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Vector product.
pub fn cross(a: Vec3, b: Vec3) -> Vec3 {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// Length.
pub fn norm(a: Vec3) -> f64 {
    dot(a, a).sqrt()
}

/// The vector of length one along `a`; the zero vector stays zero.
pub fn unit(a: Vec3) -> Vec3 {
    let length = norm(a);
    if length > 0.0 { scale(a, 1.0 / length) } else { a }
}

/// `m a`.
pub fn rotate(m: &Mat3, a: Vec3) -> Vec3 {
    [dot(m[0], a), dot(m[1], a), dot(m[2], a)]
}

/// `mᵀ a`, the inverse rotation.
pub fn rotate_back(m: &Mat3, a: Vec3) -> Vec3 {
    add(add(scale(m[0], a[0]), scale(m[1], a[1])), scale(m[2], a[2]))
}

/// The frame turned by `angle_rad` about the third axis, applied to `a` (the usual R₃).
pub fn rotate_about_z(angle_rad: f64, a: Vec3) -> Vec3 {
    let (s, c) = angle_rad.sin_cos();
    [c * a[0] + s * a[1], -s * a[0] + c * a[1], a[2]]
}

/// Angle between two directions, radians, exact for small and for large angles.
pub fn angle_between(a: Vec3, b: Vec3) -> f64 {
    norm(cross(a, b)).atan2(dot(a, b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_angles_keep_their_digits() {
        let a = [1.0, 0.0, 0.0];
        let b = [1.0, 1e-9, 0.0];
        assert!((angle_between(a, b) - 1e-9).abs() < 1e-24);
    }

    #[test]
    fn a_rotation_and_its_inverse_cancel() {
        let (s, c) = 0.3_f64.sin_cos();
        let m = [[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]];
        let a = [1.0, 2.0, 3.0];
        let back = rotate_back(&m, rotate(&m, a));
        assert!(norm(sub(a, back)) < 1e-15);
        assert!(norm(sub(rotate(&m, a), rotate_about_z(0.3, a))) < 1e-15);
    }
}
