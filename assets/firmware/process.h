/* The generated constants at work: raw codes of a frame to processed values, strengths of motors to
 * duties. Parts that the header leaves out (see its comment, "Absent") stay 0. Included behind
 * "trim.h"; without BENCH_TRIM there are no constants, and nothing is processed. */
#ifndef BENCH_PROCESS_H
#define BENCH_PROCESS_H

#if defined(BENCH_TRIM)

#if TB_RAW_BITS != 10
#error "the converter of this chip has 10 bits; these constants are for another board"
#endif

/* Milliseconds for the header's functions, modulo 65 536. They are counted on from frame to frame:
 * taken from the microseconds themselves they would jump when those go round, every 71.6 min. */
static uint16_t process_now_ms;

static void process_clock(uint32_t t_us)
{
    static uint32_t counted_us;
    uint32_t passed_ms = (t_us - counted_us) / 1000u;
    counted_us += passed_ms * 1000u;
    process_now_ms = (uint16_t)(process_now_ms + (uint16_t)passed_ms);
}

/* ---- motors ---- */

static uint8_t process_asked; /* bit n = motor n runs by its constants */

#if defined(TB_M0_MOST)
static tb_motor process_m0;
#endif
#if defined(TB_M1_MOST)
static tb_motor process_m1;
#endif

/* A strength, 0-255, for a motor; 0 when there are no constants of it. */
static uint8_t process_ask(uint8_t motor, uint8_t strength)
{
    uint16_t wide = (uint16_t)(strength * 257u);
#if defined(TB_M0_MOST)
    if (motor == 0u) {
        tb_m0_ask(&process_m0, wide, process_now_ms);
        process_asked = (uint8_t)(process_asked | 1u);
        return 1;
    }
#endif
#if defined(TB_M1_MOST)
    if (motor == 1u) {
        tb_m1_ask(&process_m1, wide, process_now_ms);
        process_asked = (uint8_t)(process_asked | 2u);
        return 1;
    }
#endif
    (void)wide;
    (void)motor;
    return 0;
}

/* From here on somebody else sets that motor's duty. */
static void process_let_go(uint8_t motor)
{
    process_asked = (uint8_t)(process_asked & (uint8_t)~(1u << motor));
}

/* Sets the duties that have changed. */
static void process_motors(const bench_frame *f, void (*drive)(uint8_t motor, uint8_t duty))
{
    uint8_t duty = 0;
#if defined(TB_M0_MOST)
    if (process_asked & 1u) {
        duty = tb_m0_duty(&process_m0, process_now_ms);
        if (duty != f->duty[0]) {
            drive(0, duty);
        }
    }
#endif
#if defined(TB_M1_MOST)
    if (process_asked & 2u) {
        duty = tb_m1_duty(&process_m1, process_now_ms);
        if (duty != f->duty[1]) {
            drive(1, duty);
        }
    }
#endif
    (void)f;
    (void)drive;
    (void)duty;
}

/* ---- buttons ---- */

#define PROCESS_BUTTON(n)                                                                          \
    if (tb_b##n(states + n, (uint8_t)((down >> n) & 1u), process_now_ms)) {                        \
        mask |= (uint16_t)(1u << n);                                                               \
    }

/* `f->buttons` says pressed as 1, so the polarity of the pins is settled here already. */
static void process_buttons(bench_frame *f)
{
    static tb_button states[15];
    uint16_t mask = 0;
    uint16_t down = f->buttons;
#if defined(TB_B0_LOCKOUT_MS)
    PROCESS_BUTTON(0)
#endif
#if defined(TB_B1_LOCKOUT_MS)
    PROCESS_BUTTON(1)
#endif
#if defined(TB_B2_LOCKOUT_MS)
    PROCESS_BUTTON(2)
#endif
#if defined(TB_B3_LOCKOUT_MS)
    PROCESS_BUTTON(3)
#endif
#if defined(TB_B4_LOCKOUT_MS)
    PROCESS_BUTTON(4)
#endif
#if defined(TB_B5_LOCKOUT_MS)
    PROCESS_BUTTON(5)
#endif
#if defined(TB_B6_LOCKOUT_MS)
    PROCESS_BUTTON(6)
#endif
#if defined(TB_B7_LOCKOUT_MS)
    PROCESS_BUTTON(7)
#endif
#if defined(TB_B8_LOCKOUT_MS)
    PROCESS_BUTTON(8)
#endif
#if defined(TB_B9_LOCKOUT_MS)
    PROCESS_BUTTON(9)
#endif
#if defined(TB_B10_LOCKOUT_MS)
    PROCESS_BUTTON(10)
#endif
#if defined(TB_B11_LOCKOUT_MS)
    PROCESS_BUTTON(11)
#endif
#if defined(TB_B12_LOCKOUT_MS)
    PROCESS_BUTTON(12)
#endif
#if defined(TB_B13_LOCKOUT_MS)
    PROCESS_BUTTON(13)
#endif
#if defined(TB_B14_LOCKOUT_MS)
    PROCESS_BUTTON(14)
#endif
    (void)states;
    (void)down;
    f->out_buttons = mask;
}

static void process(bench_frame *f)
{
    process_clock(f->t_us);
#if defined(TB_LEFT_INNER)
    tb_left_stick(f->axes[0], f->axes[1], f->out_axes, f->out_axes + 1);
#endif
#if defined(TB_RIGHT_INNER)
    tb_right_stick(f->axes[2], f->axes[3], f->out_axes + 2, f->out_axes + 3);
#endif
#if defined(TB_LT_REST)
    f->out_axes[4] = tb_lt(f->axes[4]);
#endif
#if defined(TB_RT_REST)
    f->out_axes[5] = tb_rt(f->axes[5]);
#endif
    process_buttons(f);
}

#else

#define process_ask(motor, strength) 0
#define process_let_go(motor) ((void)(motor))
#define process_motors(frame, drive) ((void)0)
#define process(frame) ((void)0)

#endif

#endif
