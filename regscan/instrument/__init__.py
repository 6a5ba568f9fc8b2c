"""Making the instrument ready: teach a job from an approved sheet, calibrate and prove a camera."""
